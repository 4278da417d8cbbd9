package words_test

import (
	"fmt"

	"groundsheet/tiles/words"
)

func ExampleList() {
	fmt.Println(words.List([]string{"gas", "water", "sewer"}))
	fmt.Println(words.EscapeControls("a\x1b[2Jb"))
	// Output:
	// gas, water and sewer
	// a[U+001B][2Jb
}
