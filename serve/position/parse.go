package position

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// The readers of one kind of sentence each. Fields are numbered as in the
// standard, from 1; an empty field is not told. A right checksum does not prove
// that no field was lost (two commas cancel each other), so they are counted.

// clockTime is a time of day as a sentence gives it.
type clockTime struct {
	told bool
	at   time.Duration // since midnight UTC
}

// place is a latitude and longitude, degrees.
type place struct {
	told     bool
	lat, lon float64
}

type ggaSentence struct {
	clock      clockTime
	place      place
	kind       Kind
	satellites int // -1 when not told
	hdop       float64
	altitude   *float64
	age        *float64 // of the corrections, seconds; nil when not told
}

type rmcSentence struct {
	clock clockTime
	place place
	valid bool   // status A
	mode  string // since version 2.3; "" before
	date  time.Time
}

type gsaSentence struct {
	dimensions string // "1" no fix, "2", "3"
	hdop       float64
}

type gstSentence struct {
	clock    clockTime
	lat, lon float64 // standard deviations in metres; 0 when not told
}

func (s sentence) field(n int) string { return s.fields[n-1] }

// count tells when the number of fields is not one of those allowed.
func (s sentence) count(allowed ...int) error {
	if slices.Contains(allowed, len(s.fields)) {
		return nil
	}
	return fmt.Errorf("%s with %d fields, not %d", s.kind, len(s.fields), allowed[len(allowed)-1])
}

func readGGA(s sentence) (g ggaSentence, err error) {
	r := reader{s: s}
	r.err = s.count(14)
	if r.err == nil {
		g = ggaSentence{
			clock: r.clock(1), place: r.place(2), kind: r.quality(6), satellites: r.satellites(7),
			hdop: r.hdop(8), altitude: r.altitude(9), age: r.age(13),
		}
	}
	return g, r.err
}

func readRMC(s sentence) (m rmcSentence, err error) {
	r := reader{s: s}
	r.err = s.count(11, 12, 13)
	if r.err != nil {
		return m, r.err
	}
	m = rmcSentence{clock: r.clock(1), place: r.place(3), valid: s.field(2) == "A", date: r.date(9)}
	if len(s.fields) > 11 {
		m.mode = s.field(12)
	}
	if status := s.field(2); r.err == nil && status != "A" && status != "V" {
		r.err = fmt.Errorf("RMC: status %q is neither A nor V", status)
	}
	return m, r.err
}

func readGSA(s sentence) (a gsaSentence, err error) {
	r := reader{s: s}
	r.err = s.count(18, 17)
	if r.err == nil {
		a = gsaSentence{dimensions: s.field(2), hdop: r.hdop(16)}
	}
	return a, r.err
}

func readGST(s sentence) (g gstSentence, err error) {
	r := reader{s: s}
	r.err = s.count(8)
	if r.err == nil {
		g = gstSentence{clock: r.clock(1), lat: r.number(6), lon: r.number(7)}
		if r.err == nil && !g.clock.told {
			r.err = errors.New("GST without a time belongs to no position")
		}
	}
	return g, r.err
}

// reader reads fields and keeps the first thing that is wrong.
type reader struct {
	s   sentence
	err error
}

func (r *reader) wrong(n int, what string) {
	if r.err == nil {
		r.err = fmt.Errorf("%s field %d: %q is no %s", r.s.kind, n, r.s.field(n), what)
	}
}

// number reads a number that is not negative, 0 when it is not told.
func (r *reader) number(n int) float64 {
	text := r.s.field(n)
	if text == "" {
		return 0
	}
	v, ok := plain(text)
	if !ok {
		r.wrong(n, "number")
	}
	return v
}

// plain reads digits with at most one point: no sign, exponent or name.
func plain(text string) (float64, bool) {
	if text == "" || len(text) > 20 || strings.Trim(text, "0123456789.") != "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil
}

func (r *reader) clock(n int) clockTime {
	text := r.s.field(n)
	if text == "" {
		return clockTime{}
	}
	whole, _, _ := strings.Cut(text, ".")
	v, ok := plain(text)
	if !ok || len(whole) != 6 {
		r.wrong(n, "time of day")
		return clockTime{}
	}
	hours, minutes, seconds := math.Floor(v/10000), math.Floor(math.Mod(v, 10000)/100), math.Mod(v, 100)
	if hours > 23 || minutes > 59 || seconds >= 61 { // a leap second has the number 60
		r.wrong(n, "time of day")
		return clockTime{}
	}
	ms := math.Round((hours*3600 + minutes*60 + seconds) * 1000)
	return clockTime{true, time.Duration(ms) * time.Millisecond}
}

func (r *reader) date(n int) time.Time {
	text := r.s.field(n)
	if text == "" || text == "000000" {
		return time.Time{}
	}
	at, err := time.Parse("020106", text)
	if err != nil {
		r.wrong(n, "date")
		return time.Time{}
	}
	if at.Year() < 1980 { // satellites have told the time since 1980
		at = at.AddDate(100, 0, 0)
	}
	return at
}

// place reads the four fields from n on. Zeros in both are what some
// receivers send for nothing.
func (r *reader) place(n int) place {
	if r.s.field(n) == "" && r.s.field(n+2) == "" {
		return place{}
	}
	p := place{lat: r.angle(n, "N", "S", 90), lon: r.angle(n+2, "E", "W", 180)}
	p.told = r.err == nil && (p.lat != 0 || p.lon != 0)
	return p
}

// angle reads dddmm.mmm and the letter after it.
func (r *reader) angle(n int, plus, minus string, most float64) float64 {
	v, ok := plain(r.s.field(n))
	degrees := math.Floor(v/100) + math.Mod(v, 100)/60
	if !ok || math.Mod(v, 100) >= 60 || degrees > most {
		r.wrong(n, "latitude or longitude")
		return 0
	}
	switch r.s.field(n + 1) {
	case plus:
		return degrees
	case minus:
		return -degrees
	}
	r.wrong(n+1, "side of the globe")
	return 0
}

// hdop takes numbers that stand for nothing (0, and 99 and more, by common
// practice) as not told.
func (r *reader) hdop(n int) float64 {
	if v := r.number(n); v < 99 {
		return v
	}
	return 0
}

func (r *reader) altitude(n int) *float64 {
	text := r.s.field(n)
	if text == "" {
		return nil
	}
	v, ok := plain(strings.TrimPrefix(text, "-"))
	if !ok {
		r.wrong(n, "height")
		return nil
	}
	if strings.HasPrefix(text, "-") {
		v = -v
	}
	return &v
}

// age is how old corrections are, in seconds.
func (r *reader) age(n int) *float64 {
	if r.s.field(n) == "" {
		return nil
	}
	v := r.number(n)
	return &v
}

// satellites is -1 when it is not told.
func (r *reader) satellites(n int) int {
	if r.s.field(n) == "" {
		return -1
	}
	v := r.number(n)
	if v > 999 {
		r.wrong(n, "number of satellites")
		return -1
	}
	return int(v)
}

// quality is field 6 of GGA.
func (r *reader) quality(n int) Kind {
	switch r.s.field(n) {
	case "", "0":
		return NoFix
	case "1", "3": // 3 is the precise service of the satellites, still without corrections
		return Autonomous
	case "2":
		return Differential
	case "4":
		return Fixed
	case "5":
		return Float
	case "6":
		return Estimated
	case "7":
		return Manual
	case "8":
		return Simulator
	}
	if _, ok := plain(r.s.field(n)); !ok {
		r.wrong(n, "quality")
	}
	return Unknown
}
