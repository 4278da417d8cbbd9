package serve

import (
	"groundsheet/pack/record/instrument"
	"groundsheet/serve/readings"
)

// InstrumentFormat is how the lines of the crew's instrument are read, as the first pack
// that is served and states it has it.
func (s *Server) InstrumentFormat() (f instrument.Format, ok bool) {
	for _, p := range s.packs.AcquireAll() {
		stated := p.File.Info.About.Instrument
		if !ok && stated != nil && stated.Check() == nil {
			f, ok = *stated, true
		}
		p.Release()
	}
	return f, ok
}

// Instrument tells phones the state of the crew's instrument.
func (s *Server) Instrument(state readings.State) { s.events.Instrument(state) }
