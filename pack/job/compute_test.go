package job

import (
	"strings"
	"testing"
	"time"

	"groundsheet/pack/record/derive"
	"groundsheet/tiles/measure"
)

const statedJob = `
name = "Cutbank lift station"
area = ["dig-area.geojson"]
margin = "50ft"

[[base]]
source = "county-ortho"

[tolerance]
each_side = "24in"
`

// TestComputeOptions: what the job states of records, and what stands where it
// states nothing.
func TestComputeOptions(t *testing.T) {
	now := time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)
	read := func(from, to string) derive.Options {
		j, err := Parse([]byte(strings.Replace(statedJob, from, to, 1)), "site")
		if err != nil {
			t.Fatal(err)
		}
		return j.ComputeOptions(now)
	}
	plain := read("", "")
	if plain.EachSide != 24*measure.Inch || !plain.Uncertainty || plain.Gap != 0 || plain.Limits.Slope != 0 || plain.Year != 2026 {
		t.Errorf("%+v", plain)
	}
	set := read(`margin = "50ft"`, "depth_gap = \"25ft\"\ndepth_slope = 0.5\nrecords_older_than = \"10y\"")
	if set.Gap != 25*measure.Foot || set.Limits.Slope != 0.5 {
		t.Errorf("%+v", set)
	}
	if read("[tolerance]", "[tolerance]\nhide_uncertainty = true").Uncertainty {
		t.Error("uncertainty is drawn though the job hides it")
	}
}
