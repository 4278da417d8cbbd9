// Package position turns the output of a satellite receiver (NMEA 0183) into
// positions with an honest error, and reconnects to a receiver that comes and
// goes. A [Decoder] takes bytes; a [Feed] reads them from a serial port, the
// network or a recorded file.
//
// Coordinates stay as the receiver gives them. Receivers speak of WGS 84, but with
// corrections they give the reference frame of the correction base; see [Address.Frame].
package position

import (
	"groundsheet/serve/device"
	"slices"
	"strings"
	"time"
)

// FixKind is the kind of a position's solution, as the receiver says it.
type FixKind string

// The kinds, from none to best.
const (
	NoFix        FixKind = "none"         // the receiver says that it has no position
	Simulator    FixKind = "simulator"    // invented by the receiver
	Manual       FixKind = "manual"       // typed in by somebody
	Estimated    FixKind = "estimated"    // dead reckoning, without satellites
	Unknown      FixKind = "unknown"      // a number that this package does not know
	Autonomous   FixKind = "autonomous"   // satellites alone
	Differential FixKind = "differential" // with code corrections
	Float        FixKind = "rtk-float"    // with carrier corrections, ambiguities not resolved
	Fixed        FixKind = "rtk-fixed"    // with carrier corrections, ambiguities resolved
)

var kinds = []FixKind{NoFix, Simulator, Manual, Estimated, Unknown, Autonomous, Differential, Float, Fixed}

// Text is the kind as people write it: "RTK fixed".
func (k FixKind) Text() string {
	return strings.Replace(strings.ReplaceAll(string(k), "-", " "), "rtk", "RTK", 1)
}

// rank orders kinds from none to best.
func (k FixKind) rank() int { return slices.Index(kinds, k) }

// FromSatellites reports whether a position of this kind may be shown as where
// the receiver is.
func (k FixKind) FromSatellites() bool { return k.rank() >= Autonomous.rank() }

// Corrected reports whether a position of this kind uses corrections, and so is in
// their reference frame.
func (k FixKind) Corrected() bool { return k.rank() >= Differential.rank() }

// ErrorBasis is what an error circle was computed from.
type ErrorBasis string

// The basis of an error circle, or why there is none.
const (
	NotStated      ErrorBasis = ""                // nothing says how far off the position may be
	FromGST        ErrorBasis = "gst"             // the receiver's own standard deviations
	FromHDOP       ErrorBasis = "hdop"            // satellite geometry times an assumed error: a rough estimate
	OldCorrections ErrorBasis = "old-corrections" // no circle: the corrections are too old for what the receiver states
	Implausible    ErrorBasis = "implausible"     // no circle: the receiver states less than its kind of solution can have
)

// Fix is one epoch of a receiver: where it says it was at one moment, or that
// it does not know.
type Fix struct {
	Lat, Lon      float64    // degrees, north and east positive; 0 and 0 for NoFix
	Kind          FixKind    // NoFix if there is no position
	Live          bool       // may be shown as where the receiver is now: from satellites, and not recorded
	Recorded      bool       // played from a file
	Satellites    int        // in use; -1 = not stated
	HDOP          float64    // a plain number; 0 = not stated
	Is2D          bool       // the receiver computed no height
	Error         float64    // radius in meters that holds 95 %, as far as Basis goes; 0 = not stated
	Basis         ErrorBasis // of Error
	StatedError   float64    // meters at 95 % by the receiver's own standard deviations, plausible or not; 0 = not stated
	CorrectionAge *float64   // seconds; nil = not stated, or no corrections
	Station       string     // number of the station that the corrections come from; "" = not stated
	Altitude      *float64   // meters above mean sea level; nil = not stated
	Time          time.Time  // UTC by the receiver; zero = not stated
	HasDate       bool       // the receiver stated the day; else Time has the one nearest to this computer's clock
	Received      time.Time  // arrival of the first sentence, by this computer's clock
}

// Age returns the age of the fix. It counts the time that this computer slept, and
// a clock that is set back makes nothing younger.
func (f Fix) Age(now time.Time) time.Duration { return device.Since(f.Received, now) }

// Corrections age. No standard says when they are too old, and receivers differ, so these
// are the project's own limits after common practice: most receivers go on for 30 s to
// 60 s with code corrections, and carrier corrections lose about a millimeter a second.
var maxCorrectionAge = map[FixKind]float64{Differential: 30, Float: 10, Fixed: 10} // seconds

// What a position cannot be better than, whatever its receiver states: one
// standard deviation in the plane. By common practice; code noise, ionosphere and
// orbits leave more in nearly every case.
var minSigma = map[FixKind]float64{Autonomous: 0.5, Differential: 0.1} // meters

// tooOld reports whether corrections of this age, in seconds, are too old for the kind.
func tooOld(k FixKind, age *float64) bool {
	limit, ok := maxCorrectionAge[k]
	return ok && age != nil && *age > limit
}

// implausible reports whether a standard deviation in the plane, in meters, is
// less than this kind of solution can have.
func implausible(k FixKind, sigma float64) bool { return sigma < minSigma[k] }

// maxClockOffset is more than a slow link explains.
const maxClockOffset = 10 * time.Second

// ClockOffset returns how far the receiver's time was ahead of this computer's clock
// when it arrived; negative for behind. known is false without a time, and for a
// recording, whose time is past by nature.
func (f Fix) ClockOffset() (ahead time.Duration, known bool) {
	if f.Time.IsZero() || f.Recorded {
		return 0, false
	}
	return f.Time.Sub(f.Received), true
}

// ClocksDiffer reports whether the receiver's time and this computer's clock are 10 s or
// more apart. One of them is wrong or the position came late, and nobody knows which,
// so the position is not shown as current.
func (f Fix) ClocksDiffer() bool {
	ahead, known := f.ClockOffset()
	return known && ahead.Abs() >= maxClockOffset
}
