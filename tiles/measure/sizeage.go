package measure

import (
	"fmt"
	"math"
	"strconv"
	"time"
)

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
