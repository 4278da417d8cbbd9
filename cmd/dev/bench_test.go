package main

import (
	"crypto/sha256"
	"os"
	"slices"
	"testing"

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

// TestInTurn: everybody is measured once a round, and no two rounds running in the same order.
func TestInTurn(t *testing.T) {
	var order []int
	all, err := inTurn(3, 3, func(which int) (int, error) { order = append(order, which); return len(order), nil })
	if err != nil || !slices.Equal(order, []int{0, 1, 2, 1, 2, 0, 2, 0, 1}) || len(all) != 3 || !slices.Equal(all[2], []int{3, 5, 7}) {
		t.Error(order, all, err)
	}
	if got := ratios([]float64{2, 9, 8}, []float64{1, 3, 2}, func(v float64) float64 { return v }); got != 3 {
		t.Error(got)
	}
}

// TestBenchTiles: the images are whole, no two are the same, and their sizes
// are spread as those of photographs.
func TestBenchTiles(t *testing.T) {
	p, err := newPictures()
	if err != nil {
		t.Fatal(err)
	}
	const n = 500
	met, sizes := map[[32]byte]bool{}, []int{}
	for i := range n {
		data := p.of(benchTile(i))
		met[sha256.Sum256(data)] = true
		sizes = append(sizes, len(data))
		if _, err := raster.Prove(data, 256); err != nil {
			t.Fatal(i, err)
		}
	}
	slices.Sort(sizes)
	if len(met) != n || sizes[0] > 6000 || sizes[n-1] < 34000 || sizes[n/2] < 12000 || sizes[n/2] > 24000 {
		t.Errorf("%d different images of %d to %d bytes, median %d", len(met), sizes[0], sizes[n-1], sizes[n/2])
	}
}
