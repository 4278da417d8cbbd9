package source_test

import (
	"errors"
	"os"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
)

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// stated reads the terms of a small source.
func stated(t *testing.T, lines ...string) (*source.Terms, error) {
	t.Helper()
	b, err := source.Read([]byte(with(append([]string{"[a.terms]"}, lines...)...)), "s.toml")
	if err != nil {
		return nil, err
	}
	s, err := b.Find("a")
	return s.Terms, err
}

func TestTermsRead(t *testing.T) {
	got, err := stated(t, `offline = "permission"`, `permission_by = "A. Clerk"`, `permission_on = 2026-03-01`, `permission_reference = "L-17"`,
		`copies_on_phones = " allowed "`, `tiles_per_day = 2000`, `hours = ["20:00-06:00", "12:00-13:00"]`, `time_zone = "America/Denver"`, `keep_at_most = "3d"`)
	if err != nil {
		t.Fatal(err)
	}
	hours, err := source.ParseHours([]string{"20:00-06:00", "12:00-13:00"}, "America/Denver")
	if err != nil {
		t.Fatal(err)
	}
	want := source.Terms{Offline: "permission", Permission: "A. Clerk, 2026-03-01, L-17", PermissionBy: "A. Clerk", PermissionOn: "2026-03-01",
		PermissionReference: "L-17", CopiesOnPhones: "allowed", RequestsPerSecond: 2, Connections: 2, TilesPerDay: 2000, Hours: hours,
		KeepAtLeast: measure.Age(3 * 24 * time.Hour), KeepAtMost: measure.Age(3 * 24 * time.Hour)}
	if *got != want {
		t.Errorf("%+v, want %+v", *got, want)
	}
}

func TestTermsFaults(t *testing.T) {
	for name, c := range map[string]struct {
		lines []string
		want  string
	}{
		"tiles per day": {[]string{`tiles_per_day = -1`}, "terms.tiles_per_day"},
		"hours":         {[]string{`hours = ["8-17"]`}, `terms.hours: hours "8-17"`},
		"hours 25":      {[]string{`hours = ["08:00-25:00"]`}, "terms.hours"},
		"no hours":      {[]string{`hours = ["08:00-08:00"]`}, "begin and end at once"},
		"zone":          {[]string{`time_zone = "Denver"`}, "terms.time_zone"},
		"keep":          {[]string{`keep_at_least = "7d"`, `keep_at_most = "6d"`}, "below keep_at_least"},
		"keep nothing":  {[]string{`keep_at_most = "0d"`}, "leave it out"},
		"day":           {[]string{`permission_on = "1 March"`}, "terms.permission_on"},
		"day as a year": {[]string{`permission_on = 2026`}, "terms.permission_on"},
		"copies":        {[]string{`copies_on_phones = "yes"`}, `terms.copies_on_phones: "yes" is not a known word`},
		"copies, bare":  {[]string{`copies_on_phones = true`}, "copies_on_phones"},
		"two lines":     {[]string{`permission_by = "a\nb"`}, "terms.permission_by"},
	} {
		_, err := stated(t, c.lines...)
		var f *fault.Fault
		if !errors.As(err, &f) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestPermission: words, or at least who and when.
func TestPermission(t *testing.T) {
	for lines, refused := range map[string]bool{
		`permission = "letter of 2026-03-01"`:                             false,
		"permission_by = \"A. Clerk\"\npermission_on = \"2026-03-01\"":    false,
		`permission_by = "A. Clerk"`:                                      true,
		`permission_on = 2026-03-01`:                                      true,
		`permission_reference = "L-17"`:                                   true,
		"permission_on = \"2026-03-01\"\npermission_reference = \"L-17\"": true,
	} {
		b, err := source.Read([]byte(with("[a.terms]", `offline = "permission"`, lines)), "s")
		if err != nil {
			t.Fatal(err)
		}
		if s, _ := b.Find("a"); (s.Refusal() != nil) != refused {
			t.Errorf("%s: %v", lines, s.Refusal())
		}
	}
}

func hours(t *testing.T, zone string, spans ...string) *source.Terms {
	t.Helper()
	h, err := source.ParseHours(spans, zone)
	if err != nil {
		t.Fatal(err)
	}
	return &source.Terms{Hours: h}
}

func TestHours(t *testing.T) {
	at := func(text string) time.Time {
		v, err := time.Parse(time.RFC3339, text)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	night := []string{"20:00-06:00"}
	cases := []struct {
		name, zone string
		spans      []string
		at, next   string // the same time when it is open
	}{
		{"always", "", nil, "2026-06-01T12:00:00Z", "2026-06-01T12:00:00Z"},
		{"evening", "UTC", night, "2026-06-01T19:59:59Z", "2026-06-01T20:00:00Z"},
		{"at the beginning", "UTC", night, "2026-06-01T20:00:00Z", "2026-06-01T20:00:00Z"},
		{"after midnight", "UTC", night, "2026-06-02T05:59:59Z", "2026-06-02T05:59:59Z"},
		{"at the end", "UTC", night, "2026-06-02T06:00:00Z", "2026-06-02T20:00:00Z"},
		{"until midnight", "UTC", []string{"18:00-24:00"}, "2026-06-02T00:00:00Z", "2026-06-02T18:00:00Z"},
		{"the nearer of two", "UTC", []string{"20:00-21:00", "12:00-13:00"}, "2026-06-02T13:00:00Z", "2026-06-02T20:00:00Z"},
		{"summer in Denver", "America/Denver", night, "2026-07-01T18:00:00Z", "2026-07-02T02:00:00Z"},
		{"winter in Denver", "America/Denver", night, "2026-01-01T18:00:00Z", "2026-01-02T03:00:00Z"},
		// 2026-03-08, 02:00 to 03:00, does not exist in Denver (US rule: second
		// Sunday in March).
		{"swallowed once", "America/Denver", []string{"02:15-02:45"}, "2026-03-08T07:00:00Z", "2026-03-09T08:15:00Z"},
		{"half swallowed", "America/Denver", []string{"02:30-03:30"}, "2026-03-08T07:00:00Z", "2026-03-08T09:00:00Z"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			terms := hours(t, c.zone, c.spans...)
			if got := terms.NextOpening(at(c.at)); !got.Equal(at(c.next)) {
				t.Errorf("next opening %v, want %s", got.UTC(), c.next)
			}
			if open := terms.OpenAt(at(c.at)); open != (c.at == c.next) {
				t.Errorf("open: %v", open)
			}
			if !terms.OpenAt(terms.NextOpening(at(c.at))) {
				t.Error("closed when it opens")
			}
		})
	}
	denver := hours(t, "America/Denver")
	if d := denver.Day(at("2026-07-02T05:59:00Z")); d != "2026-07-01" {
		t.Errorf("day %s", d)
	}
	if d := hours(t, "Asia/Tokyo").Day(at("2026-07-01T16:00:00Z")); d != "2026-07-02" {
		t.Errorf("day %s", d)
	}
}

// Whatever hours are read, they open within two days.
func FuzzParseHours(f *testing.F) {
	f.Add("20:00-06:00", "America/Denver", int64(1772953200))
	f.Add("02:15-02:45", "", int64(0))
	f.Fuzz(func(t *testing.T, span, zone string, at int64) {
		h, err := source.ParseHours([]string{span}, zone)
		if err != nil || at < 0 || at > 4e9 {
			return
		}
		terms := source.Terms{Hours: h}
		next := terms.NextOpening(time.Unix(at, 0))
		if !terms.OpenAt(next) || next.Before(time.Unix(at, 0)) || next.Sub(time.Unix(at, 0)) > 50*time.Hour {
			t.Fatalf("%q in %q at %d: opens %v", span, zone, at, next)
		}
	})
}
