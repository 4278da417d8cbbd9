//go:build outside

package brief

import (
	"math"
	"slices"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/tiles/area"
	"groundsheet/tiles/geodesic"
)

// TestOutsideStripScale finds readings along the route on the printed strips: they
// lie as far apart as the stated scale says, within half a per cent, and from
// left to right as they follow one another along the route.
func TestOutsideStripScale(t *testing.T) {
	c := newCenterlines([]pack.Route{{Line: bent(), Width: 18}})[0]
	features := ""
	for station := 15.0; station < c.length(); station += 20 {
		if features != "" {
			features += ","
		}
		features += reading("", c.placeAt(station))
	}
	for _, units := range []string{"us", "metric"} {
		p := corridor(t, units, nil, area.Area{}, records(t, "w", "water", features))
		m, pdf, _ := write(t, p, Options{})
		path := saved(t, pdf)
		s, err := readPack(t.Context(), p, now)
		if err != nil {
			t.Fatal(err)
		}
		doc := newPaperFor(map[string]string{"us": Letter, "metric": A4}[units])
		plan, _ := s.chooseStrips(mapBox(doc.wideSize()))
		if len(plan.strips) != m.Strips || plan.rows != 1 {
			t.Fatalf("%+v, %d strips", m, len(plan.strips))
		}
		for i, one := range plan.strips {
			img := render(t, path, 3+i) // page one, the overview, then the strips
			found := blobs(img, box{one.on.X + 4, one.on.Y + 4, one.on.W - 8, one.on.H - 8}, record.SymbologyOf("water", "").Color)
			slices.SortFunc(found, func(a, b orb.Point) int { return int(a[0] - b[0]) })
			var want []orb.Point
			for station := 15.0; station < c.length(); station += 20 {
				if at := one.toPaper(c.placeAt(station)); at[0] > one.on.X+7 && at[0] < one.on.X+one.on.W-7 && at[1] > one.on.Y+7 && at[1] < one.on.Y+one.on.H-7 {
					want = append(want, c.placeAt(station))
				}
			}
			if len(want) < 2 || len(found) < len(want) {
				t.Fatalf("strip %d: %d readings are seen, %d or more are wanted", one.number, len(found), len(want))
			}
			nearest := func(p orb.Point) orb.Point {
				at := one.toPaper(p)
				return slices.MinFunc(found, func(a, b orb.Point) int {
					return int(1e3 * (math.Hypot(a[0]/dpi*25.4-at[0], a[1]/dpi*25.4-at[1]) - math.Hypot(b[0]/dpi*25.4-at[0], b[1]/dpi*25.4-at[1])))
				})
			}
			a, b := nearest(want[0]), nearest(want[len(want)-1])
			onPaper, ground := math.Hypot(a[0]-b[0], a[1]-b[1])/dpi*0.0254, geodesic.Distance(want[0], want[len(want)-1])
			if off := onPaper*m.Scale/ground - 1; math.Abs(off) > 0.005 || b[0] <= a[0] {
				t.Errorf("%s, strip %d: %.2f m on the ground are %.2f m by the scale on paper", units, one.number, ground, onPaper*m.Scale)
			} else {
				t.Logf("%s, strip %d: scale off by %+.3f %%", units, one.number, off*100)
			}
		}
	}
}
