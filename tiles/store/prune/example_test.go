package prune_test

import (
	"context"
	"fmt"
	"os"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
	"groundsheet/tiles/store/prune"
)

func ExampleNew() {
	ctx := context.Background()
	dir, err := os.MkdirTemp("", "store")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	st, err := folder.Open(dir)
	if err != nil {
		fmt.Println(err)
		return
	}
	defer st.Close()
	shelf, err := st.Shelf("county-0011aabb")
	if err != nil {
		fmt.Println(err)
		return
	}
	now := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	image := store.Held{Tile: tiles.Tile{ID: tiles.ID{Z: 20, X: 5, Y: 9}, Data: []byte("an image")}, Media: "png"}
	image.Fetched = now.Add(-100 * 24 * time.Hour)
	if _, err := shelf.Keep(ctx, []store.Held{image}); err != nil {
		fmt.Println(err)
		return
	}
	plan, err := prune.New(ctx, st, prune.Options{OlderThan: 90 * 24 * time.Hour, Now: func() time.Time { return now }})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(plan.Shelves[0].Tiles, "to go")
	done, err := plan.Apply(ctx)
	fmt.Println(done.Tiles, "gone", err)
	// Output:
	// 1 to go
	// 1 gone <nil>
}
