package position

import "time"

// Corrections wear out. No standard says when, and receivers differ, so these
// are limits of our own choice, after common practice: most receivers are set
// to go on for 30 s to 60 s with corrections of the codes, and corrections of
// the carrier lose about a millimetre a second.
const (
	oldCode    = 30.0 // seconds, of a differential position
	oldCarrier = 10.0 // seconds, of an RTK position, fixed or float
)

// What a position cannot be better than, whatever its receiver states: one
// standard deviation in the plane, in metres. By common practice; the noise of
// the codes, the ionosphere and the orbits leave more in nearly every case.
const (
	bestAutonomous   = 0.5
	bestDifferential = 0.1
)

// oldCorrections says whether a position rests on corrections that are too old.
func oldCorrections(k Kind, age *float64) bool {
	if age == nil {
		return false
	}
	switch k {
	case Differential:
		return *age > oldCode
	case Float, Fixed:
		return *age > oldCarrier
	}
	return false
}

// implausible says whether a standard deviation in the plane, in metres, is
// less than the kind of solution can have.
func implausible(k Kind, sigma float64) bool {
	return k == Autonomous && sigma < bestAutonomous || k == Differential && sigma < bestDifferential
}

// clocksApart is a difference between clocks that is told: beyond what a slow
// link makes.
const clocksApart = 10 * time.Second

// ClockOffset is how far the time that the receiver gave was ahead of this
// computer's clock when it came; negative for behind. Told is false without a
// time, and for a recording, whose time is long past by right.
func (f Fix) ClockOffset() (ahead time.Duration, told bool) {
	if f.Time.IsZero() || f.Recorded {
		return 0, false
	}
	return f.Time.Sub(f.Received), true
}

// ClocksDiffer says that the receiver's time and this computer's clock are 10 s or more
// apart: one of them is wrong, or the position came late. Which, nobody knows,
// so it is not shown as where the receiver is now.
func (f Fix) ClocksDiffer() bool {
	ahead, told := f.ClockOffset()
	return told && ahead.Abs() >= clocksApart
}
