package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"groundsheet/serve"
	"groundsheet/serve/device"
	"groundsheet/serve/readings"
)

const instrumentHelp = `locator that speaks to this computer, in lines as [instrument] in the job says: ` +
	`serial:/dev/ttyUSB1?baud=9600, tcp:HOST:PORT, udp:PORT or file:PATH (a recording)`

// An instrument may send lines that are not understood all day, or come and go: the terminal
// says a few states as they come, then ever fewer (the project's own choice, no source).
const (
	tellFirst = 5
	tellMost  = 10 * time.Minute
)

// openInstrument returns what reads the instrument that --instrument names; nil without one. It
// tells phones what the instrument says, and prints when it comes and goes.
func (a *app) openInstrument(s *serve.Server, text string) (run func(context.Context), err error) {
	if text == "" {
		return nil, nil
	}
	address, err := device.ParseAddress("locator", text)
	if err != nil {
		return nil, wrongUse(fmt.Sprintf("--instrument: %v", err), "such as --instrument serial:/dev/ttyUSB1?baud=9600")
	}
	format, ok := s.InstrumentFormat()
	if !ok {
		return nil, wrongUse("--instrument: no pack that is served states how its lines are read",
			"add [instrument] to job.toml as README says, and pack the job again")
	}
	tell := &teller{every: tellEvery, first: tellFirst, most: tellMost, say: func(text string) { a.say("instrument: %s", text) }}
	feed := readings.NewFeed(address, format, readings.Options{Changed: func(state readings.State) {
		s.Instrument(state)
		tell.tell(instrumentText(state), false)
	}})
	s.Instrument(feed.State())
	return func(ctx context.Context) {
		defer tell.stop()
		feed.Run(ctx)
	}, nil
}

// instrumentText describes a state without its reading, so it changes only when something
// changed for a crew.
func instrumentText(s readings.State) string {
	who := strings.TrimSpace(s.Name + " " + s.Source)
	switch {
	case !s.Open && s.Refused > 0:
		return fmt.Sprintf("%s is away: %s; lines not understood: %d (it is tried again)", who, s.Trouble, s.Refused)
	case !s.Open:
		return fmt.Sprintf("%s is away: %s (it is tried again)", who, s.Trouble)
	case s.Trouble != "" && s.Refused > 1:
		return fmt.Sprintf("%s: %s (%d so far)", who, s.Trouble, s.Refused)
	case s.Trouble != "":
		return who + ": " + s.Trouble
	case s.Reading == nil:
		return who + " is connected"
	}
	return who + " is understood"
}
