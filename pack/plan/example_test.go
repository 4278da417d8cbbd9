package plan_test

import (
	"context"
	"fmt"

	"groundsheet/pack/job"
	"groundsheet/pack/plan"
	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

func ExampleNew() {
	j := job.Job{
		Name: "Valve 12", Units: "us", Margin: 15.24, Around: []job.Around{{Lat: 40.0123, Lon: -105.0456, Radius: 60}},
		Bases: []job.Base{{Source: "county", Zooms: tiles.Zooms{Min: 16, Max: 19}}},
	}
	in, err := j.ReadInputs()
	if err != nil {
		fmt.Println(err)
		return
	}
	src := source.Source{
		Name: "county", Kind: source.KindXYZ, URL: "https://tiles.county.example/{z}/{x}/{y}.jpg",
		Zooms: tiles.Zooms{Min: 8, Max: 21}, TileSize: 256,
		Terms: &source.Terms{Offline: source.OfflineAllowed, RequestsPerSecond: 2, Connections: 2},
	}
	p, err := plan.New(context.Background(), plan.Options{Inputs: in, Source: src})
	for _, z := range p.Zooms {
		fmt.Println("zoom", z.Zoom, "tiles", z.Tiles, "to fetch", z.Fetch)
	}
	fmt.Println(p.Tiles, p.Refused, err)
	// Output:
	// zoom 16 tiles 2 to fetch 2
	// zoom 17 tiles 4 to fetch 4
	// zoom 18 tiles 6 to fetch 6
	// zoom 19 tiles 13 to fetch 13
	// 25 <nil> <nil>
}
