package main

import (
	"groundsheet/pack/office"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// following is the office with its progress shown on stderr. stop ends the bar of a
// stage: call it before anything else is printed.
func (a *app) following() (o office.Office, stop func()) {
	var stage office.EventKind
	m := a.meter("")
	stop = func() { m.stop(); stage = "" }
	o = a.office()
	o.Progress = func(e office.Event) {
		switch e.Kind {
		case office.Sampling, office.Fetching, office.Writing, office.Checking:
			if stage != e.Kind {
				stop()
				m, stage = a.meter(string(e.Kind)), e.Kind
			}
			m.event(e)
		default:
			a.noteEvent(e)
		}
	}
	return o, stop
}

func (a *app) noteEvent(e office.Event) {
	p := e.Plan
	switch e.Kind {
	case office.Begun:
		a.note("%s: %s wanted, %d to ask %s for", p.Job.Name, count(p.Tiles, "tile"), e.Total, p.Source.Name)
		if n := p.Ahead(); n > 0 {
			a.note("%s", words.Say("clock.ahead", "n", n))
		}
		if !p.Fits() {
			a.note("the estimate is %s, more than fit_in = %s: see groundsheet plan for what could be given up", measure.Size(p.Bytes), p.Job.FitIn)
		}
	case office.Waiting:
		a.note("another run is fetching from %s: waiting for it", p.Source.Name)
	case office.Paused:
		a.note("waiting until %s: %s", measure.Moment(e.Until), e.Why)
	case office.Retrying:
		a.note("%s", words.Say("fetching.trying", "source", p.Source.Name, "why", e.Why, "time", measure.Moment(e.Until)))
	case office.Rewriting:
		a.note("%s is damaged: writing it anew", p.Path)
	}
}
