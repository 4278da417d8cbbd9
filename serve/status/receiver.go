package status

import (
	"strings"
	"time"

	"groundsheet/serve/event"
	"groundsheet/serve/position"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// receiverText describes the state of the receiver. Its position is on the map only.
func receiverText(p event.Position, units string) string {
	parts := []string{phases[p.Phase]}
	if f := p.Fix; f != nil {
		age := measure.Duration(time.Duration(f.AgeMS) * time.Millisecond)
		parts[0] = words.Say("laptop.latest", "state", parts[0], "span", age, "kind", kindText(f.Kind))
		parts = append(parts, errorText(*f, units)...)
	}
	if p.Recorded {
		parts = append(parts, words.Say("laptop.recording"))
	}
	return strings.Join(parts, "; ")
}

var phases = map[position.Phase]string{
	position.PhaseOpening: words.Say("laptop.opening"),
	position.PhaseSilent:  words.Say("laptop.silent"),
	position.PhaseNoFix:   words.Say("laptop.no_fix"),
	position.PhaseFix:     words.Say("laptop.fix"),
	position.PhaseEnded:   words.Say("laptop.ended"),
	position.PhaseAway:    words.Say("laptop.away"),
}

// errorText is a position's error, how it was found, and what speaks against
// it.
func errorText(f event.Fix, units string) (parts []string) {
	switch {
	case f.Error != nil && f.Grounds == position.FromHDOP:
		parts = append(parts, words.Say("laptop.by_estimate", "error", measure.Distance(*f.Error).In(units)))
	case f.Error != nil:
		parts = append(parts, words.Say("laptop.within", "error", measure.Distance(*f.Error).In(units)))
	}
	switch f.Grounds {
	case position.OldCorrections:
		parts = append(parts, words.Say("laptop.corrections_old"))
	case position.Implausible:
		parts = append(parts, words.Say("laptop.implausible"))
	}
	if f.Late {
		parts = append(parts, words.Say("laptop.clocks"))
	}
	return parts
}

// kindText is a kind of position as people write it: "RTK fixed".
func kindText(k position.Kind) string {
	return strings.Replace(strings.ReplaceAll(string(k), "-", " "), "rtk", "RTK", 1)
}
