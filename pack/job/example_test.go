package job_test

import (
	"fmt"

	"groundsheet/pack/job"
)

func ExampleParse() {
	j, err := job.Parse([]byte(`
name = "Cutbank lift station"
margin = "50ft"

[[around]]
center = "40.0123,-105.0456"
radius = "200ft"

[[base]]
source = "county-ortho"
zooms = [14, 21]
`), "site")
	fmt.Println(j.Name, j.Margin.In(j.Units), j.Bases[0].Zooms.Max, err)
	fmt.Println(j.PackPath(0))

	_, err = job.Parse([]byte("name = \"Cutbank\"\nmargin = 50\n"), "site")
	fmt.Println(err)
	// Output:
	// Cutbank lift station 50 ft 21 <nil>
	// site/out/cutbank-lift-station.mbtiles
	// site/job.toml: line 2: margin: "50" has no unit: write 50ft, 50in or 50m; fix the line
}
