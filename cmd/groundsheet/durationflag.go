package main

import (
	"fmt"
	"strings"
	"time"

	"groundsheet/tiles/measure"
)

// span is a length of time that a flag takes as people write it: 30m, 2h,
// 1h30m, 90 min, 1d.
type span time.Duration

// Set reads it; what is no time above zero is refused.
func (s *span) Set(text string) error {
	d, err := time.ParseDuration(strings.ReplaceAll(text, " ", ""))
	if err != nil {
		var age measure.Age
		if age, err = measure.ParseAge(text); err != nil {
			return fmt.Errorf("%q is no length of time: write it as 30m or 2h", text)
		}
		d = time.Duration(age)
	}
	if d <= 0 {
		return fmt.Errorf("%q is not more than nothing: write it as 30m or 2h", text)
	}
	*s = span(d)
	return nil
}

// String gives it for people, "" for none.
func (s *span) String() string {
	if *s == 0 {
		return ""
	}
	return measure.Duration(time.Duration(*s))
}

// Type names what the flag takes.
func (s *span) Type() string { return "time" }
