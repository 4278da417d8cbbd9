package shapefile_test

import (
	"fmt"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/tiles/shapefile"
)

func ExampleSet_Write() {
	s := shapefile.Set{
		Kind:   shapefile.Points,
		Fields: []shapefile.Field{{Name: "utility"}, {Name: "depth_m", Number: true}},
		Rows: []shapefile.Row{
			{Geometry: orb.Point{-140.49671, 40.4986}, Values: []any{"water", 1.04}},
			{Geometry: orb.Point{-140.49672, 40.4987}, Values: []any{"water", nil}},
		},
		Date: time.Date(2026, 11, 29, 0, 0, 0, 0, time.UTC),
	}
	files, cut, err := s.Write()
	fmt.Println(len(files[".shp"]), len(files[".shx"]), len(files[".dbf"]), string(files[".cpg"]), len(cut), err)
	// Output: 156 116 118 UTF-8 0 <nil>
}
