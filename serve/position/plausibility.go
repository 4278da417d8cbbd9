package position

import "time"

// Corrections age. No standard says when they are too old, and receivers differ, so these
// are the project's own limits after common practice: most receivers go on for 30 s to
// 60 s with code corrections, and carrier corrections lose about a millimeter a second.
var maxCorrectionAge = map[Kind]float64{Differential: 30, Float: 10, Fixed: 10} // seconds

// What a position cannot be better than, whatever its receiver states: one
// standard deviation in the plane. By common practice; code noise, ionosphere and
// orbits leave more in nearly every case.
var minSigma = map[Kind]float64{Autonomous: 0.5, Differential: 0.1} // meters

// tooOld reports whether corrections of this age, in seconds, are too old for the kind.
func tooOld(k Kind, age *float64) bool {
	limit, ok := maxCorrectionAge[k]
	return ok && age != nil && *age > limit
}

// implausible reports whether a standard deviation in the plane, in meters, is
// less than this kind of solution can have.
func implausible(k Kind, sigma float64) bool { return sigma < minSigma[k] }

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
