package places_test

import (
	"fmt"

	"groundsheet/tiles/places"
)

func ExampleParse() {
	for _, typed := range []string{"40 0 44.3 N 105 2 44.2 W", "13N 498945 4429136", "13TDE9894529136"} {
		lat, lon, err := places.Parse(typed)
		fmt.Printf("%.5f %.5f %v\n", lat, lon, err)
	}
	// Output:
	// 40.01231 -105.04561 <nil>
	// 40.01242 -105.01236 <nil>
	// 40.01243 -105.01236 <nil>
}
