package derive_test

import (
	"fmt"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/geojson"
)

func ExampleFrom() {
	line := func(utility, depth string, path ...orb.Point) record.Overlay {
		properties := map[string]any{"depth": depth, "depth_of": "top", "size": "4 in"}
		f := geojson.Feature{Geometry: orb.LineString(path), Properties: properties, Place: "feature 1"}
		o, err := record.New([]geojson.Feature{f}, record.Meta{File: utility + ".geojson", Utility: utility}, utility)
		if err != nil {
			fmt.Println(err)
		}
		return o
	}
	area := orb.Bound{Min: orb.Point{-105.001, 39.999}, Max: orb.Point{-104.999, 40.001}}.ToPolygon()
	known := derive.From([]record.Overlay{
		line("water", "5ft", orb.Point{-105.002, 40}, orb.Point{-104.998, 40}),
		line("gas", "3ft", orb.Point{-105, 39.998}, orb.Point{-105, 40.002}),
	}, orb.MultiPolygon{area}, derive.Options{EachSide: 0.6})
	for _, c := range known.Crossings {
		fmt.Println(c.Kind, c.Upper, c.InArea)
	}
	fmt.Println(len(known.Zones), known.Entries[0].Kind)
	// Output:
	// above gas/1 true
	// 2 enters the dig area
}
