package fetch_test

import (
	"context"
	"fmt"
	"os"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/practice"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
)

func ExampleRun() {
	if err := fetchTown(context.Background()); err != nil {
		fmt.Println(err)
	}
	// Output: 4 of 4 tiles fetched with 4 requests
}

// fetchTown fetches four tiles of the practice source into a new store.
func fetchTown(ctx context.Context) error {
	dir, err := os.MkdirTemp("", "store")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	office, err := folder.Open(dir)
	if err != nil {
		return err
	}
	defer office.Close()
	shelf, err := office.Shelf("town")
	if err != nil {
		return err
	}
	server, err := practice.Start(ctx, "", practice.Options{BusyEvery: -1})
	if err != nil {
		return err
	}
	defer server.Close()
	src := source.Source{
		Name: "town", Kind: source.KindPractice, URL: server.URL, Zooms: tiles.Zooms{Max: 22}, TileSize: 256,
		Terms: &source.Terms{Offline: source.OfflineAllowed, RequestsPerSecond: 200, Connections: 4},
	}
	area := tiles.NewCover(16, []tiles.Span{{Row: 24690, First: 7190, Last: 7193}})
	tally, err := fetch.Run(ctx, src, shelf, fetch.Wants(store.Compare(ctx, shelf, false, area), src.Terms, time.Now(), false), fetch.Options{})
	if err != nil {
		return err
	}
	fmt.Println(tally.New, "of", tally.Wanted, "tiles fetched with", tally.Requests, "requests")
	return nil
}
