package folder_test

import (
	"context"
	"fmt"
	"os"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
)

func ExampleOpen() {
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
	image := store.Held{Tile: tiles.Tile{ID: tiles.ID{Z: 20, X: 5, Y: 9}, Data: []byte("an image")}, Media: "png"}
	kept, err := shelf.Keep(ctx, []store.Held{image})
	fmt.Println(kept.New, err)
	held, ok, err := shelf.Get(ctx, image.ID)
	fmt.Println(string(held.Data), ok, err)
	// Output:
	// 1 <nil>
	// an image true <nil>
}
