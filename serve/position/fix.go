// Package position turns what a satellite receiver says (NMEA 0183) into
// positions with an honest error, and keeps hold of a receiver that comes and
// goes. A [Decoder] takes bytes; a [Feed] reads them from a serial port, the
// network or a recorded file.
//
// Coordinates are handed on as the receiver gives them. Receivers speak of
// WGS 84, but with corrections they give the frame of the correction's base; see
// [Address.Frame].
package position

import "time"

// Kind is how a position came about, as the receiver says it.
type Kind string

// The kinds, from none to best.
const (
	NoFix        Kind = "none"         // the receiver says that it has no position
	Simulator    Kind = "simulator"    // made up by the receiver
	Manual       Kind = "manual"       // typed in by somebody
	Estimated    Kind = "estimated"    // dead reckoning, without satellites
	Unknown      Kind = "unknown"      // a kind that the receiver numbers and we do not know
	Autonomous   Kind = "autonomous"   // satellites alone
	Differential Kind = "differential" // with corrections of the codes
	Float        Kind = "rtk-float"    // with corrections of the carrier, not settled
	Fixed        Kind = "rtk-fixed"    // with corrections of the carrier, settled
)

// FromSatellites says whether a position of this kind may be shown as where
// the receiver is.
func (k Kind) FromSatellites() bool {
	return k == Autonomous || k == Differential || k == Float || k == Fixed
}

// Corrected says whether a position of this kind rests on corrections, so that
// it is in their frame.
func (k Kind) Corrected() bool { return k == Differential || k == Float || k == Fixed }

// trust ranks kinds from none to best.
func (k Kind) trust() int {
	for i, other := range []Kind{NoFix, Simulator, Manual, Estimated, Unknown, Autonomous, Differential, Float, Fixed} {
		if k == other {
			return i
		}
	}
	return 0
}

// ErrorBasis is what an error circle was worked out from.
type ErrorBasis string

// The grounds of an error circle, or why there is none.
const (
	NotStated        ErrorBasis = ""                // nothing tells how far off the position may be
	FromGST     ErrorBasis = "gst"             // the receiver's own standard deviations
	FromHDOP   ErrorBasis = "hdop"            // the satellites' geometry times an assumed error: a rough estimate
	OldCorrections ErrorBasis = "old-corrections" // no circle: what the receiver states rests on corrections that are too old
	Implausible    ErrorBasis = "implausible"     // no circle: the receiver states less than its kind of solution can have
)

// Fix is one epoch of a receiver: where it says it was at one moment, or that
// it does not know.
type Fix struct {
	Lat, Lon   float64   // degrees, north and east positive; 0 and 0 for NoFix
	Kind       Kind      // NoFix when there is no position
	Live       bool      // may be shown as where the receiver is now: from satellites, and not recorded
	Recorded   bool      // played from a file
	Satellites int       // in use; -1 when not told
	HDOP       float64   // a plain number; 0 when not told
	Is2D       bool      // the receiver worked out no height (2D)
	Error      float64   // radius in metres that holds 95 %, as far as Grounds goes; 0 when not told
	Basis    ErrorBasis   // what Error comes from
	StatedError     float64   // what the receiver's own standard deviations make at 95 %, believed or not; metres, 0 when not told
	CorrectionAge *float64  // age of the corrections in seconds; nil when not told, or without corrections
	Station    string    // number of the station that the corrections come from; "" when not told
	Altitude   *float64  // metres above mean sea level; nil when not told
	Time       time.Time // UTC as the receiver says; zero when not told
	HasDate    bool      // the receiver told the day; else Time has the one nearest to this computer's clock
	Received   time.Time // when its first sentence came in, by this computer's clock
}

// Age is how old the fix is. It counts the time that this computer slept, and
// a clock that is set back makes nothing younger.
func (f Fix) Age(now time.Time) time.Duration { return since(f.Received, now) }

// since takes the longer of the two clocks: the running one stands still while
// a computer sleeps, and the wall clock may be set.
func since(then, now time.Time) time.Duration {
	return max(now.Sub(then), now.Round(0).Sub(then.Round(0)), 0)
}
