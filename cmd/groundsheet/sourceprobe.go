package main

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"net/http"

	"groundsheet/pack/office"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
)

// sayProbe says what came.
func (a *app) sayProbe(s source.Source, p discover.Probe) {
	lon, lat := p.Tile.Center()
	a.say("tile %v near %.5f, %.5f (latitude, longitude)", p.Tile, lat, lon)
	if s.Local() {
		a.say("from: %s", strings.Join(s.Paths(), ", "))
	} else {
		a.say("address: %s", p.Address)
	}
	for _, r := range p.Redirects {
		a.say("redirected to: %s", r)
	}
	took := p.Received.Sub(p.Requested)
	a.say("answer: %d %s, %s, %d ms", p.Status, http.StatusText(p.Status), p.Proto, max(took.Milliseconds(), 1))
	switch {
	case p.Flaw == nil && s.Vector():
		for _, l := range p.Layers {
			a.say("layer: %s, with %s", l.ID, cmp.Or(strings.Join(slices.Sorted(maps.Keys(l.Fields)), ", "), "no values"))
		}
		a.say("vector tile: %s, %s", measure.Count(len(p.Layers), "layer"), measure.Size(len(p.Data)))
	case p.Flaw == nil:
		a.say("picture: %s by content, %d×%d pixels, %s", p.Picture.Kind, p.Picture.Width, p.Picture.Height,
			measure.Size(len(p.Data)))
	default:
		a.say("no picture: %v; %s", p.Flaw, measure.Size(len(p.Data)))
	}
	told := office.TellProbe(s, p)
	for _, line := range told.Keeping {
		a.say("keeping: %s", line)
	}
	if told.Clock != "" {
		a.say("clock: %s", told.Clock)
	}
	for _, line := range told.Odd {
		a.say("odd: %s", line)
	}
	if err := s.Refusal(); err != nil {
		a.say("terms: %v", err)
	} else {
		a.say("terms: %s", s.TermsWords())
	}
}
