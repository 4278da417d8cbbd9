package event

import (
	"time"

	"github.com/paulmach/orb"

	"groundsheet/serve/position"
	"groundsheet/tiles/geodesic"
)

// Position is the event of the receiver on this computer.
type Position struct {
	Source   string         `json:"source"`
	Recorded bool           `json:"recorded"`
	Phase    position.Phase `json:"phase"` // of package position, or "none" when there is no receiver
	Trouble  string         `json:"trouble"`
	Frame    *string        `json:"frame"` // of corrected positions, as stated; null when not stated
	Fix      *Fix           `json:"fix"`   // the latest position, also when the phase is not "fix" any more
	Read     int64          `json:"read"`
	Refused  int64          `json:"refused"` // sentences that were passed over
	Refusal  string         `json:"refusal"` // why the latest of them was
}

// Fix is a position in a [Position]. null = the receiver does not say.
type Fix struct {
	Lat  float64          `json:"lat"`
	Lon  float64          `json:"lon"`
	Kind position.FixKind `json:"kind"`
	// at present, from satellites and not recorded; false in silence and with no fix
	Live       bool                `json:"live"`
	Recorded   bool                `json:"recorded"`
	Satellites *int                `json:"satellites"`    // null, as is everything below that says so
	HDOP       *float64            `json:"hdop"`          // null
	Error      *float64            `json:"error_m"`       // at 95 %; null
	Grounds    position.ErrorBasis `json:"grounds"`       // what error_m comes from, or why it is null
	Stated     *float64            `json:"stated_m"`      // what the receiver states, at 95 %, believed or not; null
	Correction *float64            `json:"corrections_s"` // age of the corrections; null
	Station    *string             `json:"station"`       // where they come from; null
	// from NAD83(2011) numbers to this map; null outside North America
	NAD83 *float64 `json:"nad83_m"`
	AgeMS int64    `json:"age_ms"` // when the event was sent
	Time  string   `json:"time"`   // as the receiver says, with its day; "" without
	Date  *string  `json:"date"`   // the day that the receiver says; null
	Clock *string  `json:"clock"`  // its time of day, UTC; null
	Late  bool     `json:"late"`   // the two clocks are 10 s or more apart
	// of the receiver's clock before this computer's; null, also for a recording
	Ahead *float64 `json:"ahead_s"`
}

func positionOf(s position.FeedState, now time.Time) Position {
	e := Position{
		Source: s.Source, Recorded: s.Recorded, Phase: s.Phase, Trouble: s.Problem, Frame: optional(s.Frame),
		Read: s.Counts.Read, Refused: s.Counts.Rejected, Refusal: s.Counts.Rejection,
	}
	if s.Fix != nil {
		e.Fix = fixOf(*s.Fix, now)
		e.Fix.Live = s.Live(now)
	}
	return e
}

func fixOf(f position.Fix, now time.Time) *Fix {
	e := &Fix{
		Lat: f.Lat, Lon: f.Lon, Kind: f.Kind, Recorded: f.Recorded,
		Late: f.ClocksDiffer(), HDOP: optional(f.HDOP), Error: optional(f.Error), Grounds: f.Basis,
		Stated:     optional(f.StatedError),
		Correction: f.CorrectionAge, Station: optional(f.Station), NAD83: nad83(f, now), AgeMS: f.Age(now).Milliseconds(),
	}
	if f.Satellites >= 0 {
		e.Satellites = &f.Satellites
	}
	if !f.Time.IsZero() {
		e.Clock = optional(f.Time.Format("15:04:05"))
	}
	if f.HasDate {
		e.Time, e.Date = f.Time.Format(time.RFC3339Nano), optional(f.Time.Format(time.DateOnly))
	}
	if ahead, ok := f.ClockOffset(); ok {
		seconds := ahead.Seconds()
		e.Ahead = &seconds
	}
	return e
}

// optional is nil, which is null in JSON, for the zero value.
func optional[T comparable](v T) *T {
	var zero T
	if v == zero {
		return nil
	}
	return &v
}

// nad83 is how far the numbers of a place on NAD83(2011) lie from its numbers on
// WGS 84, in meters; nil away from North America and its islands.
func nad83(f position.Fix, now time.Time) *float64 {
	if !f.Kind.Corrected() || f.Lat < 14 || f.Lat > 84 || f.Lon > -50 {
		return nil
	}
	year := float64(now.UTC().Year()) + float64(now.UTC().YearDay()-1)/365.25
	return optional(geodesic.NAD83Shift(orb.Point{f.Lon, f.Lat}, year).Length())
}
