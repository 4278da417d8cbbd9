package source

import (
	"fmt"
	"time"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
)

// The words of terms.offline.
const (
	OfflineAllowed    = "allowed"    // the published terms allow keeping tiles for offline use
	OfflinePermission = "permission" // the provider allowed it to this operator; the text says who and when
	OfflineForbidden  = "forbidden"  // the terms forbid it
)

// The words of terms.copies_on_phones. Where nothing is stated, phones keep no copy.
const (
	CopiesAllowed   = "allowed"   // the terms allow phones of the crew to keep the whole job
	CopiesForbidden = "forbidden" // the terms forbid it
)

// What holds where a terms block is silent.
const (
	DefaultRequestsPerSecond = 2.0
	DefaultConnections       = 2
	MaxConnections           = 16
	DefaultKeepAtLeast       = measure.Age(7 * 24 * time.Hour)
)

// Terms is what the provider allows, as the operator states it.
type Terms struct {
	// OfflineAllowed, OfflinePermission, OfflineForbidden; anything else is refused
	Offline   string `toml:"offline"`
	Reference string `toml:"reference"` // where the terms are published
	// who gave it, when, reference, in words; made of the next three when only they are stated
	Permission   string `toml:"permission"`
	PermissionBy string `toml:"permission_by"` // who gave it; "" when not stated apart
	// the day, YYYY-MM-DD; "" when not stated apart
	PermissionOn string `toml:"-"`
	// number of a letter or contract; "" when not stated apart
	PermissionReference string `toml:"permission_reference"`
	// CopiesAllowed, CopiesForbidden; "" when not stated: no copies
	CopiesOnPhones string `toml:"copies_on_phones" json:",omitempty"`
	// sent in the User-Agent so that the provider can write
	Contact string `toml:"contact"`
	// never exceeded; DefaultRequestsPerSecond when not stated
	RequestsPerSecond float64 `toml:"-"`
	// open at once, 1 to MaxConnections; DefaultConnections when not stated
	Connections int `toml:"-"`
	// most tiles one job may ask for; 0 = no limit stated
	TilesPerJob int `toml:"tiles_per_job"`
	// most tiles a day, over all jobs; 0 = no limit stated
	TilesPerDay int `toml:"tiles_per_day"`
	// shortest time a tile counts as fresh; DefaultKeepAtLeast when not stated
	KeepAtLeast measure.Age `toml:"-"`
	// longest time a tile counts as fresh; 0 = no limit stated
	KeepAtMost measure.Age `toml:"-"`
	// when the source may be asked; the zero value is always
	Hours Hours `toml:"-"`
}

// practiceTerms are the terms of imagery that this program draws itself.
func practiceTerms() *Terms {
	return &Terms{
		Offline:           OfflineAllowed,
		Reference:         "invented imagery, drawn by this program",
		CopiesOnPhones:    CopiesAllowed,
		RequestsPerSecond: 200,
		Connections:       8,
		KeepAtLeast:       DefaultKeepAtLeast,
	}
}

// Refused is the kind of fault of a source that may not be packed: a matter for
// the operator, not a failure outside.
var Refused = fault.Input("source refused")

// Refuse says that a source may not be packed, why, and what to do.
func Refuse(source, why, remedy string) error {
	return &fault.Fault{Kind: Refused, Place: fmt.Sprintf("source %q may not be packed", source),
		Detail: why, Remedy: remedy}
}

// Refusal is nil if tiles of the source may be kept for offline use, else a
// [Refused] fault: a host whose policy forbids it, no terms block, or terms that
// do not say yes.
func (s Source) Refusal() error {
	if err := s.Forbidden(); err != nil {
		return err
	}
	if why, remedy := s.Terms.refusal(s.Name); why != "" {
		return Refuse(s.Name, why, remedy)
	}
	return nil
}

// refusal gives reason and remedy, or two empty texts.
func (t *Terms) refusal(name string) (why, remedy string) {
	block := "[" + name + ".terms]"
	switch {
	case t == nil:
		return "sources.toml states no terms for it",
			"read the provider's terms, then add " + block + ` with offline = "allowed" or "permission" and where you read it`
	case t.Offline == "":
		return "its terms do not say whether offline use is allowed",
			`set offline in ` + block + ` to "allowed", "permission" or "forbidden"`
	case t.Offline == OfflineForbidden:
		return "its terms forbid offline use", "use a source whose terms permit it"
	case t.Offline == OfflinePermission && t.Permission == "" && (t.PermissionBy == "" || t.PermissionOn == ""):
		return `offline = "permission" is stated without saying who gave it`,
			"set permission in " + block + ": who, when, reference; or permission_by and permission_on"
	case t.Offline != OfflineAllowed && t.Offline != OfflinePermission:
		return fmt.Sprintf("offline = %q is not a known word", t.Offline),
			`set offline in ` + block + ` to "allowed", "permission" or "forbidden"`
	}
	return "", ""
}

// OpenAt reports whether the source may be asked at a time.
func (t *Terms) OpenAt(at time.Time) bool { return t.Hours.open(at) }

// NextOpening is the first time from at on when the source may be asked: at
// itself when it is open.
func (t *Terms) NextOpening(at time.Time) time.Time { return t.Hours.next(at) }

// Closing is when the hours end that are open at a time, or 24 hours later.
func (t *Terms) Closing(at time.Time) time.Time { return t.Hours.closing(at) }

// Day is the day that a time counts for in tiles_per_day, "2006-01-02" in the
// terms' time zone.
func (t *Terms) Day(at time.Time) string { return at.In(t.Hours.zone()).Format(time.DateOnly) }
