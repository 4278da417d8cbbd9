package source

import (
	"errors"
	"fmt"
	"strings"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/words"
)

// TermsWords says whether a source may be packed, and within which limits.
func (s Source) TermsWords() string {
	if refused, ok := errors.AsType[*fault.Fault](s.Refusal()); ok {
		return words.Say("terms.refused", "why", refused.Detail)
	}
	return strings.Join(append([]string{words.Say("terms.offline", "word", s.Terms.Offline)}, s.LimitsWords()...), ", ")
}

// LimitsWords are the numbers of stated terms, one limit each. Files on this computer
// need no pace.
func (s Source) LimitsWords() (parts []string) {
	t := s.Terms
	add := func(is bool, text string) {
		if is {
			parts = append(parts, text)
		}
	}
	add(s.Local(), words.Say("terms.local"))
	add(!s.Local(), words.Say("terms.pace", "rate", fmt.Sprintf("%g", t.RequestsPerSecond), "connections", t.Connections))
	add(t.TilesPerJob > 0, words.Say("terms.per_job", "n", t.TilesPerJob))
	add(t.TilesPerDay > 0, words.Say("terms.per_day", "n", t.TilesPerDay))
	if spans := t.Hours.Spans(); len(spans) > 0 {
		zone := t.Hours.Zone()
		if zone == "" {
			zone = words.Say("terms.own_zone")
		}
		add(true, words.Say("terms.hours", "spans", strings.Join(spans, ", "), "zone", zone))
	}
	add(t.KeepAtMost > 0, words.Say("terms.keep", "age", t.KeepAtMost))
	switch t.CopiesOnPhones {
	case CopiesAllowed:
		add(true, words.Say("terms.copies"))
	case CopiesForbidden:
		add(true, words.Say("terms.no_copies"))
	default:
		add(true, words.Say("terms.copies_not_stated"))
	}
	return parts
}
