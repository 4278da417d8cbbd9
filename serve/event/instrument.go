package event

import (
	"time"

	"groundsheet/pack/record/instrument"
	"groundsheet/serve/readings"
)

// Instrument is the event of the instrument that speaks to this computer.
type Instrument struct {
	Name    string   `json:"name"`    // as the job states it
	Source  string   `json:"source"`  // how it is reached
	Open    bool     `json:"open"`    // it is connected
	Trouble string   `json:"trouble"` // in words; "" = none
	Refused int64    `json:"refused"` // lines that were not understood
	Reading *Reading `json:"reading"` // the latest; null before the first
}

// Reading is what an instrument said last.
type Reading struct {
	instrument.Reading
	At    time.Time `json:"at"`     // by this computer's clock
	AgeMS int64     `json:"age_ms"` // when the event was sent
}

// Instrument announces a state of the instrument.
func (h *Hub) Instrument(s readings.State) {
	h.Announce("instrument", func() any {
		e := Instrument{Name: s.Name, Source: s.Source, Open: s.Open, Trouble: s.Trouble, Refused: s.Refused}
		if s.Reading != nil {
			e.Reading = &Reading{s.Reading.Reading, s.Reading.At.UTC(), h.o.Now().Sub(s.Reading.At).Milliseconds()}
		}
		return e
	})
}
