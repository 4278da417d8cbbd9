package vectortile_test

import (
	"context"
	"fmt"

	"groundsheet/serve/vectortile"
	"groundsheet/tiles"
)

func ExampleNew() {
	text := `{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point","coordinates":[-105,40]},"properties":{"depth_m":1.2}}]}`
	x, err := vectortile.New(context.Background(), []byte(text), vectortile.Options{Carry: []string{"depth_m"}})
	if err != nil {
		fmt.Println(err)
		return
	}
	tile, err := x.Tile(tiles.At(-105, 40, 17))
	fmt.Println(len(tile) > 0, err)
	found, count, err := x.Near(context.Background(), vectortile.Search{Lon: -105, Lat: 40, Within: 2, Most: 1})
	fmt.Println(found[0].Feature, count, err)
	// Output:
	// true <nil>
	// 0 1 <nil>
}
