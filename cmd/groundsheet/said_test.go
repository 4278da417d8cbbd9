package main

import (
	"testing"
	"time"

	"github.com/vbauerster/mpb/v8/decor"

	"groundsheet/tiles/measure"
)

// TestAsPeopleSayIt: times, areas and counts.
func TestAsPeopleSayIt(t *testing.T) {
	const acre = 4046.8564224 // m², NIST SP 811
	for got, want := range map[string]string{
		measure.Seconds(0): "0 s", measure.Seconds(0.2): "1 s", measure.Seconds(148.8): "2 min 29 s", measure.Seconds(1e12): "285 y",
		measure.GroundArea(1278.45*acre, "us"): "1278 acres (2.00 square miles)", measure.GroundArea(640*acre, "us"): "640.00 acres",
		measure.GroundArea(0.46*acre, "us"): "0.46 acres", measure.GroundArea(2e6, "metric"): "2.00 km²",
		remaining(decor.Statistics{Current: 10, Total: 100}, 10*time.Second): ", 1 min 30 s left", remaining(decor.Statistics{Total: 100}, time.Second): "",
		remaining(decor.Statistics{Current: 100, Total: 100}, time.Second): "",
		count(1, "tile"): "1 tile", count(0, "named hole"): "0 named holes", count(int64(2), "label"): "2 labels",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
