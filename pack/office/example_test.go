package office_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"groundsheet/pack/job"
	"groundsheet/pack/office"
	"groundsheet/tiles"
)

func Example() {
	dir, err := os.MkdirTemp("", "office")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	site := filepath.Join(dir, "site")
	if _, err := job.New(site, job.Job{
		Name: "Valve 12", Units: "us", Margin: 5, Around: []job.Around{{Lat: 40.5, Lon: -140.5, Radius: 20}},
		Bases: []job.Base{{Source: "practice", Zooms: tiles.Zooms{Min: 16, Max: 18}}},
	}); err != nil {
		fmt.Println(err)
		return
	}
	ctx, stages := context.Background(), map[office.EventKind]bool{}
	o := office.Office{
		StoreAt:  filepath.Join(dir, "store"),
		Progress: func(e office.Event) { stages[e.Kind] = true },
	}
	w, err := o.Open(ctx, site)
	if err != nil {
		fmt.Println(err)
		return
	}
	defer w.Close()
	for p, err := range w.Pack(ctx, office.PackOptions{}) {
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Println(filepath.Base(p.File), p.Fetched == p.Wanted, p.Check.Verdict)
	}
	fmt.Println(stages[office.Fetching], stages[office.Writing], stages[office.Checking])
	// Output:
	// valve-12.mbtiles true fit
	// true true true
}
