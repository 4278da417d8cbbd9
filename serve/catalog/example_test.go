package catalog_test

import (
	"fmt"

	"groundsheet/pack/check"
	"groundsheet/serve/catalog"
)

func ExampleVerdict() {
	fmt.Println(catalog.PackState{}.Checked())
	fmt.Println(catalog.Verdict{State: check.NotFit, Faults: 2})
	// Output:
	// not checked yet
	// NOT FIT: 2 faults
}
