package brief

import (
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/paulmach/orb"
)

// lettered is a canvas that keeps the place of each text.
type lettered struct {
	drawn
	at map[string]orb.Point
}

func (l *lettered) Text(at orb.Point, s string, _ lettering) { l.at[s] = at }

// TestSheetNumbersKeepOffTheGrid: wherever the grid falls, a number of a sheet hides
// no cross of it.
func TestSheetNumbersKeepOffTheGrid(t *testing.T) {
	p := newPDF(Letter, "", time.Unix(0, 0))
	on := box{10, 22, 190, 190}
	seen := 0
	for shift := range 40 {
		overview := newView(0, orb.Point{-105 + float64(shift)*2e-5, 40 + float64(shift)*1e-5}, 1000, on)
		s := sheet{view: overview}
		for n := range 4 { // two by two, each a quarter of the ground
			middle := overview.toGround(orb.Point{on.X + on.W*(0.25+0.5*float64(n%2)), on.Y + on.H*(0.25+0.5*float64(n/2))})
			s.parts = append(s.parts, newView(n+1, middle, 500, on))
		}
		c, r := &lettered{at: map[string]orb.Point{}}, newLabelPlacer(p, on)
		s.overIndex(c, r)
		for n := range 4 {
			at, written := c.at[strconv.Itoa(n+1)]
			if !written {
				t.Fatalf("sheet %d has no number", n+1)
			}
			b := p.textBox(at, strconv.Itoa(n+1), lettering{size: 12, bold: true, align: 'c'})
			for _, cross := range s.crosses() {
				seen++
				if x := around(cross, crossArm); b.X < x.X+x.W && x.X < b.X+b.W && b.Y < x.Y+x.H && x.Y < b.Y+b.H {
					t.Errorf("shift %d: number %d at %.1f hides the cross at %.1f", shift, n+1, at, cross)
				}
			}
		}
	}
	if seen < 100 {
		t.Errorf("only %d crosses: this proves little", seen)
	}
}

// TestFramesAreInTheLegend on the overview alone.
func TestFramesAreInTheLegend(t *testing.T) {
	const text = "detail sheet, numbered"
	of := func(s sheet) []string {
		var c drawn
		packData{}.legend(&c, newPDF(Letter, "", time.Unix(0, 0)), box{10, 10, 120, 31}, s.indexLegend()...)
		return c.texts
	}
	v := newView(0, orb.Point{-105, 40}, 1000, box{10, 22, 190, 190})
	if with := of(sheet{view: v, parts: []view{v}}); !slices.Contains(with, text) {
		t.Errorf("%q", with)
	}
	if without := of(sheet{view: v}); slices.Contains(without, text) || len(without) == 0 {
		t.Errorf("%q", without)
	}
}
