package measure

import (
	"fmt"
	"math"
	"strconv"
	"time"
)

// Count gives a number with its noun: "1 tile", "2 tiles".
func Count[N int | int64 | uint64](n N, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}

// ParseSize reads a size such as "2GB" (1 GB = 10^9 bytes).
func ParseSize(s string) (Size, error) {
	v, err := parse("size", s, sizes, `"500MB", "2GB"`)
	if v > math.MaxInt64/2 {
		return 0, fmt.Errorf("size %q: too large", s)
	}
	return Size(v), err
}

// ParseAge reads a span of time such as "90d" or "12h".
func ParseAge(s string) (Age, error) {
	v, err := parse("age", s, ages, `"10y", "90d", "12h", "30min"`)
	if v > 9e9 { // 285 years
		return 0, fmt.Errorf("age %q: too long", s)
	}
	return Age(v * float64(time.Second)), err
}

// UnmarshalText reads a size; see [ParseSize].
func (z *Size) UnmarshalText(b []byte) (err error) {
	*z, err = ParseSize(string(b))
	return err
}

// UnmarshalText reads an age; see [ParseAge].
func (a *Age) UnmarshalText(b []byte) (err error) {
	*a, err = ParseAge(string(b))
	return err
}

// Text gives the size as it would be typed, exactly: in the largest unit that
// says it with three decimals at most. [ParseSize] reads it back.
func (z Size) Text() string {
	for _, u := range sizes {
		if v := float64(z) / u.of; v >= 1 && math.Abs(v*1000-math.Round(v*1000)) < 1e-9 {
			return strconv.FormatFloat(math.Round(v*1000)/1000, 'f', -1, 64) + u.name
		}
	}
	return strconv.FormatInt(int64(z), 10) + "B"
}

// String gives the size for people, e.g. "2.4 MB".
func (z Size) String() string {
	v := float64(z)
	for _, u := range []unit{{"GB", 1e9}, {"MB", 1e6}, {"kB", 1e3}} {
		if v >= u.of {
			return trim(v/u.of) + " " + u.name
		}
	}
	return strconv.FormatInt(int64(z), 10) + " B"
}

// String gives the age for people, e.g. "7 d", "2 h", "40 s"; in years from two on.
func (a Age) String() string {
	s := time.Duration(a).Seconds()
	for _, u := range []unit{{"y", 365.25 * 86400}, {"d", 86400}, {"h", 3600}, {"min", 60}} {
		if s >= u.of && (u.name != "y" || s >= 2*u.of) {
			return trim(s/u.of) + " " + u.name
		}
	}
	return trim(s) + " s"
}

// Duration is a length of time as people say it, in the two units that matter:
// "2 min 30 s", "1 h 5 min", "3 d 4 h"; from two years on as [Age] says it.
// What is more than nothing is at least "1 s"; below 0 counts as nothing.
func Duration(d time.Duration) string {
	s := int64(math.Round(d.Seconds()))
	minutes := (s + 30) / 60
	switch {
	case d <= 0:
		return "0 s"
	case d >= 2*8766*time.Hour:
		return Age(d).String()
	case s < 1:
		return "1 s"
	case minutes >= 24*60:
		return twoUnits((s+1800)/3600, 24, "d", "h")
	case s >= 3600:
		return twoUnits(minutes, 60, "h", "min")
	case s >= 60:
		return twoUnits(s, 60, "min", "s")
	default:
		return fmt.Sprintf("%d s", s)
	}
}

// twoUnits splits an amount of the smaller unit.
func twoUnits(small, each int64, large, unit string) string {
	if small%each == 0 {
		return fmt.Sprintf("%d %s", small/each, large)
	}
	return fmt.Sprintf("%d %s %d %s", small/each, large, small%each, unit)
}

// Moment formats a time for people on site, followed by UTC: "2026-11-28,
// 3:57 PM MST (22:57 UTC)". On a computer whose clock is on UTC it is UTC alone.
func Moment(t time.Time) string {
	local, utc := t.Local(), t.UTC()
	text := local.Format("2006-01-02, 3:04 PM MST")
	_, offset := local.Zone()
	switch {
	case offset == 0:
		return utc.Format("2006-01-02 15:04 MST")
	case local.Day() == utc.Day():
		return text + utc.Format(" (15:04 MST)")
	}
	return text + utc.Format(" (2006-01-02 15:04 MST)")
}

// Seconds gives a time as people say it: "2 min 30 s", "1 h 5 min".
func Seconds(s float64) string {
	const most = 9e9 // what a Duration holds
	return Duration(time.Duration(min(s, most) * float64(time.Second)))
}

// GroundArea gives square meters for people, in "us" or "metric" units.
func GroundArea(m2 float64, units string) string {
	const acre = 43560 * Foot * Foot
	switch {
	case units == "us" && m2 > 640*acre:
		return fmt.Sprintf("%.0f acres (%.2f square miles)", m2/acre, m2/Mile/Mile)
	case units == "us" && m2 >= acre/10:
		return fmt.Sprintf("%.2f acres", m2/acre)
	case units == "us":
		return fmt.Sprintf("%.0f sq ft", m2/Foot/Foot)
	case m2 >= 1e6:
		return fmt.Sprintf("%.2f km²", m2/1e6)
	}
	return fmt.Sprintf("%.0f m²", m2)
}
