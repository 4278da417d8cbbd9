package office

import (
	"strconv"
	"strings"
	"time"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
	"groundsheet/tiles/words"
)

// TermsAnswers are a person's answers to what a provider's terms say. nil is a
// question that was not answered; "" is the answer that the terms state nothing.
type TermsAnswers struct {
	Offline        *string `json:"offline"`   // allowed, permission or forbidden
	Reference      *string `json:"reference"` // where the terms are published
	PermissionBy   *string `json:"permission_by"`
	PermissionOn   *string `json:"permission_on"`
	PermissionRef  *string `json:"permission_reference"`
	CopiesOnPhones *string `json:"copies_on_phones"`
	PerSecond      *string `json:"requests_per_second"`
	Connections    *string `json:"connections"`
	PerDay         *string `json:"tiles_per_day"`
	Hours          *string `json:"hours"` // spans with commas
	TimeZone       *string `json:"time_zone"`
	KeepAtMost     *string `json:"keep_at_most"`
	Contact        *string `json:"contact"`
}

// Terms are the terms that the answers state. An error names the first question that
// has no answer, or one that cannot be read.
func (a TermsAnswers) Terms() (*source.Terms, error) {
	permission, use := text(a.Offline) == source.OfflinePermission, text(a.Offline) != source.OfflineForbidden
	for _, q := range []struct {
		name   string
		answer *string
		asked  bool
		needed bool
	}{
		{"offline", a.Offline, true, true},
		{"reference", a.Reference, true, !permission},
		{"permission_by", a.PermissionBy, permission, true},
		{"permission_on", a.PermissionOn, permission, true},
		{"permission_reference", a.PermissionRef, permission, false},
		{"copies_on_phones", a.CopiesOnPhones, use, false},
		{"requests_per_second", a.PerSecond, use, false},
		{"connections", a.Connections, use, false},
		{"tiles_per_day", a.PerDay, use, false},
		{"hours", a.Hours, use, false},
		{"keep_at_most", a.KeepAtMost, use, false},
	} {
		if q.asked && (q.answer == nil || q.needed && strings.TrimSpace(*q.answer) == "") {
			return nil, &fault.Fault{Place: q.name, Detail: words.Say("look.not_answered"), Remedy: words.Say("look.not_answered_do")}
		}
	}
	r := answers{}
	t := &source.Terms{
		Offline: text(a.Offline), Reference: text(a.Reference), CopiesOnPhones: text(a.CopiesOnPhones), Contact: text(a.Contact),
		RequestsPerSecond: r.number("requests_per_second", a.PerSecond), Connections: int(r.number("connections", a.Connections)),
		TilesPerDay: int(r.number("tiles_per_day", a.PerDay)), KeepAtMost: r.age("keep_at_most", a.KeepAtMost),
	}
	if permission {
		t.PermissionBy, t.PermissionOn, t.PermissionReference = text(a.PermissionBy), text(a.PermissionOn), text(a.PermissionRef)
	}
	t.Hours = r.hours(text(a.Hours), text(a.TimeZone))
	return t, r.err
}

func text(answer *string) string {
	if answer == nil {
		return ""
	}
	return strings.TrimSpace(*answer)
}

// answers reads answers; the first fault counts.
type answers struct{ err error }

func (r *answers) wrong(name string, err error) {
	if r.err == nil {
		r.err = &fault.Fault{Place: name, Err: err}
	}
}

func (r *answers) number(name string, answer *string) float64 {
	if text(answer) == "" {
		return 0
	}
	n, err := strconv.ParseFloat(text(answer), 64)
	if err != nil || !(n > 0) {
		r.wrong(name, &fault.Fault{Detail: words.Say("look.no_number", "given", strconv.Quote(text(answer)))})
	}
	return n
}

func (r *answers) age(name string, answer *string) (a measure.Age) {
	if text(answer) == "" {
		return 0
	}
	a, err := measure.ParseAge(text(answer))
	if err != nil {
		r.wrong(name, err)
	}
	return a / measure.Age(time.Second) * measure.Age(time.Second)
}

func (r *answers) hours(spans, zone string) source.Hours {
	if spans == "" {
		return source.Hours{}
	}
	h, err := source.ParseHours(strings.Split(spans, ","), zone)
	if err != nil {
		r.wrong("hours", err)
	}
	return h
}
