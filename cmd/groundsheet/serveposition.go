package main

import (
	"context"
	"fmt"

	"groundsheet/serve/position"
	"groundsheet/tiles/words"
)

const positionHelp = `receiver of positions (NMEA 0183): ` +
	`serial:/dev/ttyUSB0?baud=9600, tcp:HOST:PORT, udp:PORT or file:PATH (a recording, never shown as live); ` +
	`the frame of its correction base, where it is known, follows as ?frame=NAME: 'tcp:HOST:PORT?frame=NAD83(2011)'`

// openPosition makes the feed that --position names; nil without one.
func openPosition(text string) (*position.Feed, error) {
	if text == "" {
		return nil, nil
	}
	a, err := position.ParseAddress(text)
	if err != nil {
		return nil, wrongUse(fmt.Sprintf("--position: %v", err), "such as --position serial:/dev/ttyUSB0?baud=9600")
	}
	return position.NewFeed(a, position.Options{}), nil
}

// runPosition reads the receiver until ctx ends, and says on the terminal when
// it comes and goes.
func (a *app) runPosition(ctx context.Context, f *position.Feed) {
	states, stop := f.Subscribe()
	defer stop()
	ended := make(chan struct{})
	go func() { f.Run(ctx); close(ended) }()
	said := ""
	for {
		select {
		case s := <-states:
			if words := positionWords(s); words != said && words != "" {
				said = words
				a.say("position: %s", words)
			}
		case <-ended:
			return
		}
	}
}

// positionWords are the same as long as nothing has changed for a crew: they
// hold no place and no age. "" for what passes in a moment.
func positionWords(s position.State) string {
	switch s.Phase {
	case position.PhaseAway:
		return fmt.Sprintf("%s is away: %s (it is tried again)", s.Source, s.Problem)
	case position.PhaseSilent:
		return fmt.Sprintf("%s: %s", s.Source, s.Problem)
	case position.PhaseNoFix:
		return fmt.Sprintf("%s says that it has no fix", s.Source)
	case position.PhaseEnded:
		return fmt.Sprintf("%s is over", s.Source)
	case position.PhaseFix:
		words := fmt.Sprintf("%s says where it is: %s", s.Source, kindWords(s.Fix.Kind))
		if s.Recorded {
			return words + "; recorded, so it is not shown as live"
		}
		if !s.Fix.Live {
			return words + "; it is not shown as live"
		}
		return words + doubtWords(*s.Fix)
	}
	return ""
}

// doubtWords are what keeps a position from reading as one of now.
func doubtWords(f position.Fix) (doubt string) {
	if f.Basis == position.OldCorrections {
		doubt = "; its corrections are too old"
	}
	if f.Basis == position.Implausible {
		doubt = "; the error that it states is implausible"
	}
	if f.ClocksDiffer() {
		doubt += "; " + words.Say("clock.receiver")
	}
	return doubt
}

func kindWords(k position.Kind) string {
	switch k {
	case position.Fixed:
		return "RTK fixed"
	case position.Float:
		return "RTK float, not settled"
	case position.Differential:
		return "satellites with corrections"
	case position.Autonomous:
		return "satellites without corrections"
	case position.Estimated:
		return "estimated by dead reckoning"
	case position.Manual:
		return "typed in by hand"
	case position.Simulator:
		return "made up by a simulator"
	}
	return "of a kind that is not known"
}
