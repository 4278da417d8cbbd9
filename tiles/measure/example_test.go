package measure_test

import (
	"fmt"

	"groundsheet/tiles/measure"
)

func ExampleParseDistance() {
	for _, typed := range []string{"50ft", `3'-5 1/2"`, "50"} {
		d, err := measure.ParseDistance(typed)
		fmt.Println(d, d.In("us"), err)
	}
	// Output:
	// 15.24m 50 ft <nil>
	// 1.0541m 3.46 ft <nil>
	// 0m 0 in "50" has no unit: write 50ft, 50in or 50m
}
