package main

import (
	"context"
	"time"

	"groundsheet/serve"
	"groundsheet/serve/auth"
	"groundsheet/serve/catalog"
	"groundsheet/serve/status"
	"groundsheet/tiles/words"
)

// reportPacks prints changes of the served packs: another version, trouble, a verdict.
func (a *app) reportPacks(ctx context.Context, s *serve.Server) {
	changed := make(chan struct{}, 1)
	s.OnPack(func(catalog.State) {
		select {
		case changed <- struct{}{}:
		default: // the loop reads all of them
		}
	})
	reported := map[string]catalog.State{}
	for {
		for _, p := range s.Packs() {
			before, known := reported[p.Path]
			reported[p.Path] = p
			a.reportPack(before, p, known)
		}
		select {
		case <-ctx.Done():
			return
		case <-changed:
		}
	}
}

func (a *app) reportPack(before, p catalog.State, known bool) {
	if p.Trouble != "" && p.Trouble != before.Trouble {
		a.say("WARNING: %s: %s", p.Path, p.Trouble)
	}
	if known && p.Version != "" && p.Version != before.Version {
		a.say("now served: %s from %s", p.Name, p.Path)
	}
	switch v := p.Verdict; {
	case v == nil || v == before.Verdict:
	case v.NotFit():
		a.say("WARNING: %s: %s. See: groundsheet check %s", p.Path, v, quoted(p.Path))
	default:
		a.say("checked while serving: %s is %s", p.Path, v)
	}
}

// guessingReportEvery is how often guessing that goes on is reported again.
const guessingReportEvery = 10 * time.Minute

// reportGuessing prints that somebody guesses codes, again while it goes on, and when
// it is over. It checks at the given interval until ctx ends.
func (a *app) reportGuessing(ctx context.Context, guessing func() *auth.Guessing, interval time.Duration) {
	tick := time.NewTicker(interval)
	defer tick.Stop()
	var last *auth.Guessing
	var reported time.Time
	for {
		select {
		case <-ctx.Done():
			return
		case now := <-tick.C:
			g := guessing()
			switch {
			case g == nil && last != nil:
				a.say("%s", words.Say("door.guessing_over", "wrong", last.Wrong, "addresses", last.Addresses))
			case g != nil && (last == nil || now.Sub(reported) >= guessingReportEvery):
				a.say("WARNING: %s", status.GuessingText(*g, g.Latest))
				reported = now
			}
			last = g
		}
	}
}
