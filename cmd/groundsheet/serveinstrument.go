package main

import (
	"fmt"
	"strings"

	"groundsheet/serve"
	"groundsheet/serve/device"
	"groundsheet/serve/readings"
)

const instrumentHelp = `locator that speaks to this computer, in lines as [instrument] in the job says: ` +
	`serial:/dev/ttyUSB1?baud=9600, tcp:HOST:PORT, udp:PORT or file:PATH (a recording)`

// openInstrument returns the feed that --instrument names; nil without one. It tells
// phones what the instrument says, and prints when it comes and goes.
func (a *app) openInstrument(s *serve.Server, text string) (*readings.Feed, error) {
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
	last := ""
	feed := readings.NewFeed(address, format, readings.Options{Changed: func(state readings.State) {
		s.Instrument(state)
		if text := instrumentText(state); text != last {
			last = text
			a.say("instrument: %s", text)
		}
	}})
	s.Instrument(feed.State())
	return feed, nil
}

// instrumentText describes a state without its reading, so it changes only when something
// changed for a crew.
func instrumentText(s readings.State) string {
	who := strings.TrimSpace(s.Name + " " + s.Source)
	switch {
	case !s.Open:
		return fmt.Sprintf("%s is away: %s (it is tried again)", who, s.Trouble)
	case s.Trouble != "":
		return who + ": " + s.Trouble
	case s.Reading == nil:
		return who + " is connected"
	}
	return who + " is understood"
}
