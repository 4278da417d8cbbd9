//go:build outside

package main

import (
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// TestOutsideVectorPack: GDAL reads a pack of vector tiles as it reads the file that it
// was made of: the same layers, fields and shapes.
func TestOutsideVectorPack(t *testing.T) {
	o := newWorker(t)
	town, err := filepath.Abs(filepath.Join("..", "..", "tiles", "mvt", "testdata", "town.mbtiles"))
	if err != nil {
		t.Fatal(err)
	}
	o.must(0, "source", "add", town, "--name", "town")
	o.allow()
	o.must(0, "new", o.path("site"), "--name", "site", "--box", "35.2101,-101.8299,35.2139,-101.8257", "--margin", "200ft", "--source", "town", "--zooms", "14,14")
	o.must(0, "pack", o.path("site"))
	read := func(path string) string {
		t.Helper()
		out, err := exec.Command("ogrinfo", "-ro", "-al", "-oo", "ZOOM_LEVEL=14", "-oo", "CLIP=NO", path).Output()
		if err != nil {
			t.Fatal(err)
		}
		var kept []string
		for line := range strings.Lines(string(out)) {
			for _, start := range []string{"Layer name", "Feature Count", "  POLYGON", "  MULTI", "  LINESTRING", "  POINT", "  FULLNAME", "  NUM ", "  CLASS"} {
				if strings.HasPrefix(line, start) {
					kept = append(kept, strings.NewReplacer("MULTI", "", "(((", "(", "((", "(", ")))", ")", "))", ")").Replace(line)) // one of one is the same
				}
			}
		}
		return strings.Join(kept, "")
	}
	ours, theirs := read(o.path("site", "out", "site.mbtiles")), read(town)
	if !strings.Contains(ours, "FULLNAME (String) = W 300 South Street") || !strings.Contains(ours, "Layer name: roads") {
		t.Errorf("%s", ours)
	}
	if strings.Count(ours, "\n") < 200 || sorted(ours) != sorted(theirs) {
		for i, line := range strings.Split(sorted(ours), "\n") {
			if other := strings.Split(sorted(theirs), "\n"); i >= len(other) || other[i] != line {
				t.Errorf("%d lines of ours, %d of the file's; the first that differs: %s, and %s", strings.Count(ours, "\n"), len(other)-1, line, other[min(i, len(other)-1)])
				break
			}
		}
	}
}

func sorted(text string) string {
	lines := strings.Split(text, "\n")
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}
