package record_test

import (
	"fmt"

	"groundsheet/pack/record"
)

func ExampleRead() {
	data := []byte(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"depth":"3ft 5in"},
		"geometry":{"type":"LineString","coordinates":[[-105,40],[-105,40.001]]}}]}`)
	o, err := record.Read(data, record.Meta{File: "water.geojson", Utility: "water", QualityLevel: "QL-B"}, "water")
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(o.Title, o.QualityLevel, *record.Number(o.Features[0].Properties, "depth_m"))
	_, err = record.Read(data, record.Meta{File: "water.geojson", Utility: "wter"}, "water")
	fmt.Println(err)
	// Output:
	// water B 1.0414
	// overlay water.geojson: utility "wter" is not in the APWA color code: use one of electric, gas, communication, water, sewer, reclaimed, survey, proposed
}
