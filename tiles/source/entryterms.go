package source

import (
	"math"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"groundsheet/tiles/measure"
)

const termsKeys = "offline, reference, permission, permission_by, permission_on, permission_reference, copies_on_phones, requests_per_second, connections, " +
	"tiles_per_job, tiles_per_day, hours, time_zone, keep_at_least, keep_at_most, contact"

// age keeps a bare number from being taken for nanoseconds: the library puts
// numbers into number types, but only text into this.
type age struct{ measure.Age }

type entryTerms struct {
	Terms
	PermissionOn      any      `toml:"permission_on"` // text or a TOML date
	RequestsPerSecond *float64 `toml:"requests_per_second"`
	Connections       *int     `toml:"connections"`
	Hours             []string `toml:"hours"`
	TimeZone          string   `toml:"time_zone"`
	KeepAtLeast       *age     `toml:"keep_at_least"`
	KeepAtMost        *age     `toml:"keep_at_most"`
}

// terms is nil if there is no block, except for imagery this program draws.
func (t *entryTerms) terms(kind string, wrong *problems) *Terms {
	if t == nil {
		if kind == KindPractice {
			return practiceTerms()
		}
		return nil
	}
	out := t.Terms
	for _, text := range []*string{&out.Offline, &out.CopiesOnPhones, &out.Permission, &out.PermissionBy,
		&out.PermissionReference} {
		*text = strings.TrimSpace(*text)
	}
	out.RequestsPerSecond, out.Connections, out.KeepAtLeast = DefaultRequestsPerSecond, DefaultConnections,
		DefaultKeepAtLeast
	out.PermissionOn = day(t.PermissionOn, wrong)
	if out.Permission == "" && out.PermissionBy != "" && out.PermissionOn != "" {
		out.Permission = strings.TrimSuffix(out.PermissionBy+", "+out.PermissionOn+", "+out.PermissionReference, ", ")
	}
	wrong.unless(slices.Contains([]string{"", CopiesAllowed, CopiesForbidden}, out.CopiesOnPhones),
		"terms.copies_on_phones",
		"%q is not a known word: %q or %q; leave it out while nothing is stated", out.CopiesOnPhones,
		CopiesAllowed, CopiesForbidden)
	t.pace(&out, wrong)
	t.keep(&out, wrong)
	wrong.unless(out.TilesPerJob >= 0, "terms.tiles_per_job", "%d is not possible: 0 (no limit stated) or more",
		out.TilesPerJob)
	wrong.unless(out.TilesPerDay >= 0, "terms.tiles_per_day", "%d is not possible: 0 (no limit stated) or more",
		out.TilesPerDay)
	var err error
	if out.Hours, err = ParseHours(t.Hours, t.TimeZone); err != nil {
		key, _, _ := strings.Cut(err.Error(), " ")
		wrong.add("terms."+key, "%v", err)
	}
	return &out
}

func (t *entryTerms) pace(out *Terms, wrong *problems) {
	if t.RequestsPerSecond != nil {
		out.RequestsPerSecond = *t.RequestsPerSecond
		ok := out.RequestsPerSecond >= 0.001 && out.RequestsPerSecond <= 10000 && !math.IsNaN(out.RequestsPerSecond)
		wrong.unless(ok, "terms.requests_per_second", "%v is not possible: a number from 0.001 to 10000",
			out.RequestsPerSecond)
	}
	if t.Connections != nil {
		out.Connections = *t.Connections
		wrong.unless(out.Connections >= 1 && out.Connections <= MaxConnections, "terms.connections",
			"%d is not possible: 1 to %d", out.Connections, MaxConnections)
	}
}

// keep reads how long tiles count as fresh. A keep_at_most below the default
// of keep_at_least lowers that; below a stated one it is a fault.
func (t *entryTerms) keep(out *Terms, wrong *problems) {
	if t.KeepAtLeast != nil {
		out.KeepAtLeast = t.KeepAtLeast.Age
	}
	if t.KeepAtMost == nil {
		return
	}
	out.KeepAtMost = t.KeepAtMost.Age
	wrong.unless(out.KeepAtMost > 0, "terms.keep_at_most", `%v is not possible: leave it out for no limit`, out.KeepAtMost)
	if t.KeepAtLeast == nil {
		out.KeepAtLeast = min(out.KeepAtLeast, out.KeepAtMost)
	}
	wrong.unless(out.KeepAtMost >= out.KeepAtLeast, "terms.keep_at_most", "%v is below keep_at_least, %v",
		out.KeepAtMost, out.KeepAtLeast)
}

// day reads a date as text or as TOML's own.
func day(v any, wrong *problems) string {
	text := ""
	switch v := v.(type) {
	case nil:
		return ""
	case toml.LocalDate:
		return v.String()
	case string:
		text = strings.TrimSpace(v)
	}
	if _, err := time.Parse(time.DateOnly, text); err != nil && text != "" || text == "" && v != "" {
		wrong.add("terms.permission_on", `want a day, such as "2026-03-01"`)
	}
	return text
}
