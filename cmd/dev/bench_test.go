package main

import (
	"crypto/sha256"
	"os"
	"testing"
	"time"

	"groundsheet/tiles/raster"
)

// TestMain lets the test binary be the program itself: the bench measures
// processes of it.
func TestMain(m *testing.M) {
	if os.Getenv("GROUNDSHEET_AS_DEV") == "1" {
		main()
		return
	}
	os.Exit(m.Run())
}

// TestLook counts in half-open windows of a second.
func TestLook(t *testing.T) {
	at := func(millis ...int) (out []time.Time) {
		for _, ms := range millis {
			out = append(out, time.UnixMilli(int64(ms)))
		}
		return out
	}
	for _, c := range []struct {
		came []time.Time
		want seen
	}{
		{nil, seen{}},
		{at(5), seen{Requests: 1, Most: 1}},
		{at(0, 1000), seen{2, 1, 1}},
		{at(999, 0), seen{2, 1 / 0.999, 2}},
		{at(0, 500, 900, 1400, 1450, 1499, 2000), seen{7, 3, 5}},
	} {
		if got := look(c.came); got != c.want {
			t.Errorf("%v: %+v, want %+v", c.came, got, c.want)
		}
	}
}

func TestMedian(t *testing.T) {
	for _, c := range []struct {
		of   []float64
		want float64
	}{{nil, 0}, {[]float64{3}, 3}, {[]float64{4, 1}, 2.5}, {[]float64{9, 1, 2}, 2}} {
		if got := median(c.of); got != c.want {
			t.Errorf("%v: %v, want %v", c.of, got, c.want)
		}
	}
}

// TestBenchTiles: the images are whole, no two are the same, and their weight
// is that of photographs.
func TestBenchTiles(t *testing.T) {
	p, err := newPictures()
	if err != nil {
		t.Fatal(err)
	}
	const n = 500
	met, total := map[[32]byte]bool{}, 0
	for i := range n {
		data := p.of(benchTile(i))
		met[sha256.Sum256(data)] = true
		total += len(data)
		if _, err := raster.Prove(data, 256); err != nil {
			t.Fatal(i, err)
		}
	}
	if mean := total / n; len(met) != n || mean < 16000 || mean > 20000 {
		t.Errorf("%d different images of %d bytes on average", len(met), mean)
	}
}
