package main

import (
	"fmt"
	"os"
	"sync"
	"time"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
	"golang.org/x/term"

	"groundsheet/pack/office"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// meter shows how far long work has come: a bar on a terminal, a plain line
// every few seconds elsewhere.
type meter struct {
	app  *app
	what string

	mu    sync.Mutex
	extra string
	last  time.Time
	bars  *mpb.Progress
	bar   *mpb.Bar
}

// lineEvery is the pause between plain lines.
const lineEvery = 5 * time.Second

func (a *app) meter(what string) *meter {
	return &meter{app: a, what: what, last: time.Now()}
}

func (a *app) terminal() bool {
	f, ok := a.bare.err.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// to moves the meter.
func (m *meter) to(done, total int64) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.move(done, total)
}

// event moves the meter of a stage of the office.
func (m *meter) event(e office.Event) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if t := e.Fetched; e.Kind == office.Fetching || e.Kind == office.Sampling {
		m.extra = ", " + measure.Size(t.Bytes).String()
		if t.Failed > 0 {
			m.extra += fmt.Sprintf(", %d failed", t.Failed)
		}
		e.Done = int64(t.New + t.Unchanged + t.Absent)
	}
	m.move(e.Done, e.Total)
}

func (m *meter) move(done, total int64) {
	switch {
	case m.app.quiet || total == 0:
	case m.app.terminal() && !m.app.logJSON:
		m.draw(done, total)
	case time.Since(m.last) >= lineEvery:
		m.last = time.Now()
		m.app.note("%s: %d of %s%s", m.what, done, count(total, "tile"), m.extra)
	}
}

func (m *meter) draw(done, total int64) {
	if m.bars == nil {
		began := time.Now()
		m.bars = mpb.New(mpb.WithOutput(m.app.bare.err), mpb.WithWidth(64))
		m.bar = m.bars.AddBar(total,
			mpb.PrependDecorators(decor.Name(m.what+" "), decor.CountersNoUnit("%d of %d tiles")),
			mpb.AppendDecorators(decor.Any(func(decor.Statistics) string { return m.words() }),
				decor.Any(func(s decor.Statistics) string { return remaining(s, time.Since(began)) })),
		)
	}
	m.bar.SetCurrent(done)
}

// remaining is how long the rest takes at the pace so far.
func remaining(s decor.Statistics, took time.Duration) string {
	if s.Current <= 0 || s.Current >= s.Total {
		return ""
	}
	return ", " + measure.Duration(time.Duration(float64(took)*float64(s.Total-s.Current)/float64(s.Current))) + " left"
}

// words is read by the bar's own goroutine.
func (m *meter) words() string {
	if !m.mu.TryLock() {
		return ""
	}
	defer m.mu.Unlock()
	return m.extra
}

// stop ends the bar, done or not.
func (m *meter) stop() {
	m.mu.Lock()
	bars, bar := m.bars, m.bar
	m.mu.Unlock()
	if bars == nil {
		return
	}
	bar.Abort(false)
	bars.Wait()
}

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
			a.note("the estimate is %s, more than fit_in = %s: see groundsheet plan for what could be given up",
				measure.Size(p.Bytes), p.Job.FitIn)
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
