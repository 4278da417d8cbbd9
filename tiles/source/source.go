package source

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/measure"
)

// The kinds of source this version asks.
const (
	KindXYZ      = "xyz"      // a URL template, row 0 in the north
	KindTMS      = "tms"      // a URL template, row 0 in the south
	KindPractice = "practice" // invented imagery drawn on this machine
)

// The words of terms.offline.
const (
	OfflineAllowed    = "allowed"    // the published terms allow keeping tiles for offline use
	OfflinePermission = "permission" // the provider allowed it to this operator; the text says who and when
	OfflineForbidden  = "forbidden"  // the terms forbid it
)

// What holds where a terms block is silent.
const (
	DefaultRequestsPerSecond = 2.0
	DefaultConnections       = 2
	MaxConnections           = 16
	DefaultKeepAtLeast       = measure.Age(7 * 24 * time.Hour)
)

// Source is one place to get base map tiles from, as the operator states it.
type Source struct {
	Name        string      // letters, digits and dashes; the heading in sources.toml
	Kind        string      // KindXYZ, KindTMS or KindPractice
	URL         string      // template with {z} {x} {y}, {-y}, {q}, {s}, {key}; may be "" for practice
	KeyEnv      string      // environment variable that holds the key for {key}; "" when none
	Subdomains  []string    // what {s} stands for, used in turn
	Zooms       tiles.Zooms // the zooms the source has
	TileSize    int         // side of a tile in pixels: 256 or 512
	Attribution string      // the credit to show beside the map; "" when not stated
	Captured    string      // when the imagery was taken, as stated; "" when unknown
	Bounds      *tiles.Box  // ground the source covers, in degrees; nil when not stated
	// GroundResolution is what one pixel of the original picture is on the
	// ground; 0 when not stated. Zooms beyond it only magnify.
	GroundResolution measure.Distance

	RedirectHosts []string // hosts that redirects may lead to besides the own one

	Terms *Terms // nil when the file has no terms block: packing is refused
}

// Terms is what the provider allows, as the operator states it.
type Terms struct {
	Offline           string      // OfflineAllowed, OfflinePermission, OfflineForbidden; anything else is refused
	Reference         string      // where the terms are published
	Permission        string      // who gave it, when, reference; needed for OfflinePermission
	Contact           string      // sent in the User-Agent so that the provider can write
	RequestsPerSecond float64     // never exceeded; DefaultRequestsPerSecond when not stated
	Connections       int         // open at once, 1 to MaxConnections; DefaultConnections when not stated
	TilesPerDay       int         // most tiles a day; 0 = no limit stated
	KeepAtMost        measure.Age // longest time a tile may be kept without asking; 0 = no limit stated
	TilesPerJob       int         // most tiles one job may ask for; 0 = no limit stated
	KeepAtLeast       measure.Age // shortest time a tile counts as fresh; DefaultKeepAtLeast when not stated
}

// practiceTerms are the terms of imagery that this program draws itself.
func practiceTerms() *Terms {
	return &Terms{
		Offline:           OfflineAllowed,
		Reference:         "invented imagery, drawn by this program",
		RequestsPerSecond: 200,
		Connections:       8,
		KeepAtLeast:       DefaultKeepAtLeast,
	}
}

// practice is the source that is known without any file.
func practice() Source {
	return Source{
		Name:        KindPractice,
		Kind:        KindPractice,
		Zooms:       tiles.Zooms{Min: 0, Max: 22},
		TileSize:    256,
		Attribution: "Practice imagery, invented; not a real place",
		Captured:    "invented",
		Terms:       practiceTerms(),
	}
}

// Fingerprint is 8 hex digits of what decides the image of a tile: kind, URL
// template and tile size. The key is no part of it. The address of a practice
// source changes with every run, so it is left out there.
func (s Source) Fingerprint() string {
	where := s.URL
	if s.Kind == KindPractice {
		where = ""
	}
	sum := sha256.Sum256([]byte(s.Kind + "\x00" + where + "\x00" + strconv.Itoa(s.TileSize)))
	return hex.EncodeToString(sum[:4])
}

// StoreName is the name of the source's file in the office store. It changes
// with the fingerprint, so images of two addresses never mix under one name.
func (s Source) StoreName() string { return s.Name + "-" + s.Fingerprint() }

// Refused says that a source may not be packed. It is the operator's matter,
// not a failure of the outside world.
type Refused struct {
	Source string // name of the source
	Why    string
	Remedy string
}

// Error gives source, reason and remedy in one line.
func (r *Refused) Error() string {
	return fmt.Sprintf("source %q may not be packed: %s; %s", r.Source, r.Why, r.Remedy)
}

// Refusal is nil when tiles of the source may be kept for offline use, else a
// *[Refused]: a host whose policy forbids it, no terms block, or terms that do
// not say yes.
func (s Source) Refusal() error {
	if why, remedy := s.forbidden(); why != "" {
		return &Refused{s.Name, why, remedy}
	}
	if why, remedy := s.Terms.refusal(s.Name); why != "" {
		return &Refused{s.Name, why, remedy}
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
	case t.Offline == OfflinePermission && t.Permission == "":
		return `offline = "permission" is stated without saying who gave it`,
			"set permission in " + block + ": who, when, reference"
	case !slices.Contains([]string{OfflineAllowed, OfflinePermission}, t.Offline):
		return fmt.Sprintf("offline = %q is not a known word", t.Offline),
			`set offline in ` + block + ` to "allowed", "permission" or "forbidden"`
	}
	return "", ""
}
