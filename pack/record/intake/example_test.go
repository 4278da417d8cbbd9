package intake_test

import (
	"fmt"

	"github.com/paulmach/orb"

	"groundsheet/pack/record/intake"
	"groundsheet/tiles/vector"
)

func ExamplePropose() {
	f := vector.File{Name: "gas main.csv", Data: []byte("lat,lon,depth\n40.0123,-105.0456,3.5\n40.0124,-105.0456,3.6\n")}
	site := intake.Site{Ground: orb.Bound{Min: orb.Point{-105.046, 40.012}, Max: orb.Point{-105.045, 40.013}}, Units: "us"}
	p := intake.Propose(f, site, nil)
	for _, i := range p.Open() {
		fmt.Println("must be answered:", i.Name)
	}
	p = intake.Propose(f, site, intake.Answers{"units.depth": "ft", "datum": "not known"})
	m, ready := p.Meta()
	fmt.Println(ready, m.Utility, m.Units["depth"], p.Remarks()["utility"])
	// Output:
	// must be answered: unit of the depth
	// must be answered: datum
	// true gas ft not stated in the rows; the file's name says so
}
