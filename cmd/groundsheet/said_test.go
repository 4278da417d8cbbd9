package main

import (
	"testing"
	"time"

	"github.com/vbauerster/mpb/v8/decor"
)

// TestAsPeopleSayIt: times and counts.
func TestAsPeopleSayIt(t *testing.T) {
	for got, want := range map[string]string{
		seconds(0): "0 s", seconds(0.2): "1 s", seconds(148.8): "2 min 29 s", seconds(1e12): "285 y",
		remaining(decor.Statistics{Current: 10, Total: 100}, 10*time.Second): ", 1 min 30 s left", remaining(decor.Statistics{Total: 100}, time.Second): "",
		remaining(decor.Statistics{Current: 100, Total: 100}, time.Second): "",
		count(1, "tile"): "1 tile", count(0, "named hole"): "0 named holes", count(int64(2), "label"): "2 labels",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
