package vector

import (
	"fmt"
	"runtime"
	"strings"
	"testing"

	"groundsheet/tiles/geojson"
)

// grown is by how much reading made the memory ever asked for grow, in bytes.
func grown(do func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	do()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

// What no table needs is refused by its line, and costs little more than the
// text of the file.
func TestTableLimits(t *testing.T) {
	long := strings.Repeat("x", 20<<20)
	for _, c := range []struct{ name, in, place, word string }{
		{"one field", "lat,lon,note\n40,-105,a\n40,-104," + long + "\n", "line 3", "1048576 bytes"},
		{"one quoted field", "lat,lon,note\n40,-105,\"" + long + "\"\n", "line 2", "1048576 bytes"},
		{"a quote that never ends", "lat,lon,note\n40,-105,\"" + strings.Repeat("40,-105,a\n", 1<<20) + "\n", "line 2", "1048576 bytes"},
		{"the header", "lat,lon," + long + "\n40,-105,a\n", "line 1", "1048576 bytes"},
		{"columns", "lat,lon\n40,-105" + strings.Repeat(",", 1000) + "\n", "line 2", "1002 columns; 1000 is the most"},
		{"cells", "lat,lon" + strings.Repeat(",", 998) + "\n" + strings.Repeat("40,-105"+strings.Repeat(",", 998)+"\n", 5001), "line 5001", "5000000 cells"},
		{"rows", "lat,lon\n" + strings.Repeat("40,-105\n", geojson.MaxPositions+1), fmt.Sprintf("line %d", geojson.MaxPositions+2), "1000000 positions"},
	} {
		t.Run(c.name, func(t *testing.T) {
			data := []byte(c.in)
			for name, read := range map[string]func() error{
				"corners":  func() error { _, _, err := Read(File{Name: "a.csv", Data: data}, Anything); return err },
				"readings": func() error { _, err := ReadSheet(File{Name: "a.csv", Data: data}, Positions{}); return err },
			} {
				var err error
				used := grown(func() { err = read() })
				refusal(t, err, geojson.RuleSize, c.place, c.word)
				if most := uint64(len(data)) + 30<<20; strings.HasPrefix(c.word, "1048576") && used > most {
					t.Errorf("%s: %d MB for a file of %d MB", name, used>>20, len(data)>>20)
				}
			}
		})
	}
}

// A row of nearly the most, and columns and quotes over lines, are read.
func TestLongRowsAreRead(t *testing.T) {
	note := "\"" + strings.Repeat("a line\n", maxRow/8) + "\""
	in := "lat,lon,note\n" + strings.Repeat("40,-105,"+note+"\n", 5)
	features, _, err := readCSV(in, Anything)
	if err != nil || len(features) != 5 || len(features[4].Properties["note"].(string)) != len(note)-2 {
		t.Errorf("%d features, %v", len(features), err)
	}
}
