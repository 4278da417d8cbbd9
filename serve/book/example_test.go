package book_test

import (
	"fmt"
	"maps"
	"slices"

	"groundsheet/serve/book"
)

func ExampleServer_Routes() {
	for _, pattern := range slices.Sorted(maps.Keys(book.New(book.Options{}).Routes())) {
		fmt.Println(pattern)
	}
	// Output:
	// GET /packs/{pack}/book
	// GET /packs/{pack}/book/entries
	// GET /packs/{pack}/book/photos/{hash}
	// GET /packs/{pack}/book/photos/{hash}/have
	// POST /packs/{pack}/book/entries
	// PUT /packs/{pack}/book/photos/{hash}
}
