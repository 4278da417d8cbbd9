package main

import (
	"path/filepath"
	"slices"
	"testing"
)

// Every package is tested, once; those that run things at once are watched.
func TestTestedHow(t *testing.T) {
	r := repo{root: filepath.Join("..", "..")}
	raced, plain, err := r.testedHow(t.Context(), false)
	if err != nil {
		t.Fatal(err)
	}
	all, none, err := r.testedHow(t.Context(), true)
	if err != nil {
		t.Fatal(err)
	}
	both := slices.Sorted(slices.Values(slices.Concat(raced, plain)))
	slices.Sort(all)
	if len(none) != 0 || !slices.Equal(both, all) {
		t.Errorf("raced %d, plain %d, all %d, none %d", len(raced), len(plain), len(all), len(none))
	}
	for _, name := range []string{"groundsheet/serve", "groundsheet/serve/auth", "groundsheet/tiles/fetch", "groundsheet/pack/office"} {
		if !slices.Contains(raced, name) {
			t.Errorf("%s is not watched for races", name)
		}
	}
	if !slices.Contains(plain, "groundsheet/tiles/geojson") {
		t.Error("tiles/geojson, which does one thing at a time, is watched for races")
	}
}
