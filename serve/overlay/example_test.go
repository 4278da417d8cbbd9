package overlay_test

import (
	"fmt"
	"maps"
	"slices"

	"groundsheet/serve/overlay"
)

func ExampleServer_Routes() {
	for _, pattern := range slices.Sorted(maps.Keys(overlay.New(overlay.Options{}).Routes())) {
		fmt.Println(pattern)
	}
	// Output:
	// GET /packs/{pack}/overlays/{id}/features
	// GET /packs/{pack}/overlays/{id}/features/{n}
	// GET /packs/{pack}/overlays/{id}/tilejson.json
	// GET /packs/{pack}/overlays/{id}/tiles/{z}/{x}/{file}
}
