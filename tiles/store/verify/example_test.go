package verify_test

import (
	"context"
	"fmt"
	"os"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
	"groundsheet/tiles/store/verify"
)

func ExampleRun() {
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
	page := store.Held{Tile: tiles.Tile{ID: tiles.ID{Z: 20, X: 5, Y: 9}, Data: []byte("<html>sign in</html>")}, Media: "png"}
	if _, err := shelf.Keep(ctx, []store.Held{page}); err != nil {
		fmt.Println(err)
		return
	}
	shelves, err := verify.Run(ctx, st, verify.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range shelves {
		for _, f := range s.Findings {
			fmt.Println(s.Name, f.Kind, f.Tile, f.Mended)
		}
	}
	// Output:
	// county-0011aabb broken 20/5/9 false
}
