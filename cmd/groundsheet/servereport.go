package main

import (
	"context"
	"fmt"
	"time"

	"groundsheet/serve"
	"groundsheet/serve/auth"
	"groundsheet/serve/book"
	"groundsheet/serve/catalog"
	"groundsheet/serve/device"
	"groundsheet/serve/position"
	"groundsheet/serve/status"
	"groundsheet/tiles/words"
)

// reportPacks prints changes of the served packs: another version, trouble, a verdict.
func (a *app) reportPacks(ctx context.Context, s *serve.Server) {
	changed := make(chan struct{}, 1)
	s.OnPack(func(catalog.PackState) {
		select {
		case changed <- struct{}{}:
		default: // the loop reads all of them
		}
	})
	reported := map[string]catalog.PackState{}
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

func (a *app) reportPack(before, p catalog.PackState, known bool) {
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

// reportBooks prints where the field books are, what troubles them, and at the given
// interval how many marks they hold when that changed.
func (a *app) reportBooks(ctx context.Context, s *serve.Server, interval time.Duration) {
	reported := map[string]book.State{}
	for tick := time.NewTicker(interval); ; {
		for _, p := range s.Packs() {
			now, ok := s.Book(p.ID)
			before := reported[p.ID]
			if !ok || now == before {
				continue
			}
			reported[p.ID] = now
			if now.Trouble != "" {
				a.say("WARNING: %s", words.Say("laptop.warn_book", "file", now.Path, "what", now.Trouble))
				continue
			}
			a.say("field book: %s", words.Say("laptop.book_holds", "file", now.Path, "marks", now.Marks, "photos", now.Photos))
		}
		select {
		case <-ctx.Done():
			tick.Stop()
			return
		case <-tick.C:
		}
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

const positionHelp = `receiver of positions (NMEA 0183): ` +
	`serial:/dev/ttyUSB0?baud=9600, tcp:HOST:PORT, udp:PORT or file:PATH (a recording, never shown as live); ` +
	`the frame of its correction base, where it is known, follows as ?frame=NAME: 'tcp:HOST:PORT?frame=NAD83(2011)'`

// openReceiver returns the feed that --position names; nil without one.
func openReceiver(text string) (*position.Feed, error) {
	if text == "" {
		return nil, nil
	}
	address, err := device.ParseAddress("receiver", text)
	if err != nil {
		return nil, wrongUse(fmt.Sprintf("--position: %v", err), "such as --position serial:/dev/ttyUSB0?baud=9600")
	}
	return position.NewFeed(address, position.Options{}), nil
}

// runReceiver reads the receiver until ctx ends, and prints when it comes and goes.
func (a *app) runReceiver(ctx context.Context, f *position.Feed) {
	states, stop := f.Subscribe()
	defer stop()
	ended := make(chan struct{})
	go func() { f.Run(ctx); close(ended) }()
	t := &teller{every: tellEvery, say: func(text string) { a.say("position: %s", text) }}
	defer t.stop()
	for {
		select {
		case s := <-states:
			if text := receiverText(s); text != "" {
				t.tell(text, s.Recorded)
			}
		case <-ended:
			return
		}
	}
}

// receiverText describes a state without place and age, so it changes only when
// something changed for a crew. "" for what passes in a moment.
func receiverText(s position.FeedState) string {
	switch s.Phase {
	case position.PhaseAway:
		return fmt.Sprintf("%s is away: %s (it is tried again)", s.Source, s.Problem)
	case position.PhaseSilent:
		return fmt.Sprintf("%s: %s", s.Source, s.Problem)
	case position.PhaseNoFix:
		return s.Source + " says that it has no fix"
	case position.PhaseEnded:
		return s.Source + " is over"
	case position.PhaseFix:
		kind, ok := kindNames[s.Fix.Kind]
		if !ok {
			kind = "of a kind that is not known"
		}
		return fmt.Sprintf("%s says where it is: %s%s", s.Source, kind, fixDoubts(s))
	}
	return ""
}

// fixDoubts is what keeps a position from reading as a current one.
func fixDoubts(s position.FeedState) (text string) {
	switch {
	case s.Recorded:
		return "; recorded, so it is not shown as live"
	case !s.Fix.Live:
		return "; it is not shown as live"
	case s.Fix.Basis == position.OldCorrections:
		text = "; its corrections are too old"
	case s.Fix.Basis == position.Implausible:
		text = "; the error that it states is implausible"
	}
	if s.Fix.ClocksDiffer() {
		text += "; " + words.Say("clock.receiver")
	}
	return text
}

var kindNames = map[position.FixKind]string{
	position.Fixed:        "RTK fixed",
	position.Float:        "RTK float, not settled",
	position.Differential: "satellites with corrections",
	position.Autonomous:   "satellites without corrections",
	position.Estimated:    "estimated by dead reckoning",
	position.Manual:       "typed in by hand",
	position.Simulator:    "made up by a simulator",
}
