package source

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"
	_ "time/tzdata" // a field laptop may have no time zones of its own
)

// Hours are the times of day when a source may be asked. The zero value is
// always, in the computer's own time zone. Hours are comparable.
type Hours struct {
	text string // "20:00-06:00, 12:00-13:00"; "" = always
	name string // IANA name; "" = the computer's own
}

// dayHours are minutes of a day; to may be smaller: it ends the next day.
type dayHours struct{ from, to int }

// ParseHours reads spans such as "20:00-06:00", which may pass midnight, and an
// IANA time zone name such as "America/Denver" ("" = the computer's own). The
// error says which of them is wrong.
func ParseHours(spans []string, zone string) (Hours, error) {
	if zone != "" {
		if _, err := time.LoadLocation(zone); err != nil || zone == "Local" {
			return Hours{}, fmt.Errorf(`time_zone %q is not known: an IANA name such as "America/Denver"`, zone)
		}
	}
	var kept []string
	for _, text := range spans {
		if _, err := parseSpan(text); err != nil {
			return Hours{}, err
		}
		kept = append(kept, strings.TrimSpace(text))
	}
	return Hours{strings.Join(kept, ", "), zone}, nil
}

func parseSpan(text string) (dayHours, error) {
	from, to, found := strings.Cut(strings.TrimSpace(text), "-")
	a, okA := minute(from)
	b, okB := minute(to)
	switch {
	case !found || !okA || !okB || a == 24*60:
		return dayHours{}, fmt.Errorf(`hours %q: want from-to, such as "20:00-06:00"`, text)
	case a == b:
		return dayHours{}, fmt.Errorf("hours %q begin and end at once: leave hours out for the whole day", text)
	}
	return dayHours{a, b}, nil
}

// minute reads "06:30" as minutes since midnight; 24:00 is the day's end.
func minute(text string) (int, bool) {
	text = strings.TrimSpace(text)
	if text == "24:00" {
		return 24 * 60, true
	}
	t, err := time.Parse("15:04", text)
	return t.Hour()*60 + t.Minute(), err == nil && len(text) == len("15:04")
}

// Spans are the hours as the operator wrote them; empty = always.
func (h Hours) Spans() []string {
	if h.text == "" {
		return nil
	}
	return strings.Split(h.text, ", ")
}

// Zone is the name of the time zone; "" = the computer's own.
func (h Hours) Zone() string { return h.name }

// MarshalJSON gives spans and zone; null when there is nothing to say.
func (h Hours) MarshalJSON() ([]byte, error) {
	if h == (Hours{}) {
		return []byte("null"), nil
	}
	return json.Marshal(struct {
		Spans []string `json:"spans"`
		Zone  string   `json:"time_zone"`
	}{h.Spans(), h.name})
}

func (h Hours) zone() *time.Location {
	if h.name == "" {
		return time.Local
	}
	zone, err := time.LoadLocation(h.name)
	if err != nil { // the name was tried when it was read
		return time.Local
	}
	return zone
}

func (h Hours) open(at time.Time) bool { return h.contain(at.In(h.zone())) }

// contain goes by the clock on the wall, so that a change to summer time moves
// the hours with it.
func (h Hours) contain(at time.Time) bool {
	now := at.Hour()*60 + at.Minute()
	return h.text == "" || slices.ContainsFunc(h.Spans(), func(text string) bool {
		s, err := parseSpan(text)
		after, before := s.from <= now, now < s.to
		return err == nil && (after && before || s.from > s.to && (after || before))
	})
}

// next looks minute by minute, so that it needs no rule of time zones. Three days
// contain every span, also one that a change to summer time skips once.
func (h Hours) next(at time.Time) time.Time {
	zone := h.zone()
	for i := 0; i < 3*24*60 && !h.contain(at.In(zone)); i++ {
		at = at.In(zone).Truncate(time.Minute).Add(time.Minute)
	}
	return at
}

// closing is the first time after at when the source may not be asked, looked for
// minute by minute; at + 24 h when there is none before.
func (h Hours) closing(at time.Time) time.Time {
	zone := h.zone()
	end := at.Add(24 * time.Hour)
	for at = at.In(zone); h.text != "" && h.contain(at) && at.Before(end); {
		at = at.Truncate(time.Minute).Add(time.Minute)
	}
	if h.text == "" {
		return end
	}
	return at
}
