package store_test

import (
	"context"
	"fmt"
	"iter"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// county holds a fresh image of one tile and a stale hole in place of another.
type county struct{ now time.Time }

func (c county) In(context.Context, tiles.Cover, bool) iter.Seq2[store.Held, error] {
	image := store.Held{Media: "jpg"}
	image.ID, image.FreshUntil = tiles.ID{Z: 20, X: 5, Y: 9}, c.now.Add(time.Hour)
	hole := store.Held{Hole: true}
	hole.ID, hole.FreshUntil = tiles.ID{Z: 20, X: 7, Y: 9}, c.now.Add(-time.Hour)
	return func(yield func(store.Held, error) bool) { _ = yield(image, nil) && yield(hole, nil) }
}

func ExampleCompare() {
	now := time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)
	wanted := tiles.NewCover(20, []tiles.Span{{Row: 9, First: 5, Last: 7}})
	for pair, err := range store.Compare(context.Background(), county{now}, false, wanted) {
		if err != nil {
			fmt.Println(err)
			return
		}
		switch pair.State(nil, now) {
		case store.Missing:
			fmt.Println(pair.ID, "is to be fetched")
		case store.Stale:
			fmt.Println(pair.ID, "is to be confirmed")
		case store.Fresh:
			fmt.Println(pair.ID, "is held")
		}
	}
	// Output:
	// 20/5/9 is held
	// 20/6/9 is to be fetched
	// 20/7/9 is to be confirmed
}
