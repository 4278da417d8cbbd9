package check

import (
	"path/filepath"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/pack"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles"
)

// boundsOf is the box round a geometry; nil without a position.
func boundsOf(g orb.Geometry) *tiles.Box {
	if g == nil || g.Bound().IsEmpty() {
		return nil
	}
	b := g.Bound()
	return &tiles.Box{West: b.Min[0], South: b.Min[1], East: b.Max[0], North: b.Max[1]}
}

// places finds where findings about records lie.
type places struct {
	lines    map[string]derive.Line // by ID
	readings map[reading]orb.Point
	overlays map[string]pack.Summary // by title; those that share one are left out
}

// reading is a row of an overlay's table.
type reading struct {
	overlay string
	line    int
}

func newPlaces(k derive.Result, overlays []pack.Summary) places {
	p := places{map[string]derive.Line{}, map[reading]orb.Point{}, map[string]pack.Summary{}}
	for _, l := range k.Lines {
		p.lines[l.ID] = l
		for _, s := range l.Stations {
			p.readings[reading{l.Overlay, s.Line}] = s.Place
		}
	}
	twice := map[string]bool{}
	for _, s := range overlays {
		_, again := p.overlays[s.Title]
		p.overlays[s.Title] = s
		twice[s.Title] = again || twice[s.Title]
	}
	for title, is := range twice {
		if is {
			delete(p.overlays, title)
		}
	}
	return p
}

// of finds what a finding of the import or of what is derived is about: a line by its
// ID, or an overlay by its file, whose name is its title unless the job gives another;
// and in it the reading of a row.
func (p places) of(where string, row int) *tiles.Box {
	overlay, whole := "", (*tiles.Box)(nil)
	if l, ok := p.lines[where]; ok {
		overlay, whole = l.Overlay, boundsOf(l.Path)
	} else if s, ok := p.overlays[strings.TrimSuffix(filepath.Base(where), filepath.Ext(where))]; ok {
		overlay, whole = s.ID, shown(s)
	}
	if at, ok := p.readings[reading{overlay, row}]; ok && row > 0 {
		return boundsOf(at)
	}
	return whole
}

func (p places) line(id string) *tiles.Box { return boundsOf(p.lines[id].Path) }

// shown is the box round an overlay; nil when it has no feature.
func shown(s pack.Summary) *tiles.Box {
	if s.Features == 0 {
		return nil
	}
	b := s.Bounds
	return &b
}
