package union_test

import (
	"fmt"

	"github.com/paulmach/orb"

	"groundsheet/tiles/union"
)

func ExampleOf() {
	a := orb.Bound{Max: orb.Point{2, 2}}.ToPolygon()
	b := orb.Bound{Min: orb.Point{1, 0}, Max: orb.Point{3, 2}}.ToPolygon()
	whole, err := union.Of(orb.MultiPolygon{a, b})
	fmt.Println(whole, err)
	// Output: [[[[0 2] [0 0] [3 0] [3 2] [0 2]]]] <nil>
}
