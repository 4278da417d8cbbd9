package handover_test

import (
	"fmt"

	"groundsheet/pack/handover"
)

func ExampleNewGround() {
	g, err := handover.NewGround(6428, "WGS 84 to NAD83(2011) at 2026.9")
	fmt.Println(g.Text(), err)
	_, err = handover.NewGround(6428, "")
	fmt.Println(err != nil)
	// Output:
	// NAD83(2011) / Colorado Central (ftUS), EPSG:6428, in us survey ft (one unit is 0.3048006096 m) <nil>
	// true
}
