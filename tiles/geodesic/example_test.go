package geodesic_test

import (
	"fmt"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geodesic"
)

func ExampleDistance() {
	a, b := orb.Point{-105, 40}, orb.Point{-104, 40}
	fmt.Printf("%.3f m\n", geodesic.Distance(a, b))
	p, ok := geodesic.UTM(13, false).Inverse(orb.Point{500_000, 4_427_757.2189})
	fmt.Printf("%.6f %.6f %v\n", p[0], p[1], ok)
	// Output:
	// 85393.409 m
	// -105.000000 40.000000 true
}
