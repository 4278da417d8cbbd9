package brief

import (
	"fmt"
	"strings"
	"testing"
)

// TestManyReadings: tens of thousands of readings on a few sheets do not make a
// brief that no printer takes; the records themselves are in the pack.
func TestManyReadings(t *testing.T) {
	var lines, readings []string
	for i := range 400 {
		x, y := float64(i%50)-25, float64(i/50)*5-20
		lines = append(lines, line(fmt.Sprintf(`"line":"L%d"`, i), from(x, y), from(x+0.7, y+3)))
		for j := range 50 {
			readings = append(readings, reading(fmt.Sprintf(`"line":"L%d","depth":"1m"`, i), from(x+float64(j)*0.7/50, y+float64(j)*3/50)))
		}
	}
	a := about()
	a.Tolerance = nil
	p := newPack(t, a, records(t, "w", "water", strings.Join(lines, ",")), records(t, "r", "gas", strings.Join(readings, ",")))
	m, pdf, page := write(t, p, Options{})
	if m.HiddenLabels == 0 || len(pdf) > 15<<20 || len(page) > 40<<20 {
		t.Errorf("%+v, PDF of %d bytes, page of %d", m, len(pdf), len(page))
	}
	t.Logf("%d labels left out, PDF of %d bytes, page of %d", m.HiddenLabels, len(pdf), len(page))
}
