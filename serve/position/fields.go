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

// Fields are numbered as in the standard, from 1; an empty field is not stated. A
// right checksum does not prove that no field was lost (two commas cancel each other
// out), so fields are counted.

// clock is a time of day.
type clock struct {
	known         bool
	sinceMidnight time.Duration // UTC
}

// coordinates are in degrees, north and east positive.
type coordinates struct {
	known    bool
	lat, lon float64
}

type gga struct {
	clock         clock
	at            coordinates
	kind          FixKind
	satellites    int // -1 = not stated
	hdop          float64
	altitude      *float64
	correctionAge *float64 // seconds
	station       string
}

type rmc struct {
	clock clock
	at    coordinates
	valid bool   // status A
	mode  string // since version 2.3; "" before
	date  time.Time
}

type gsa struct {
	dimensions string // "1" no fix, "2", "3"
	hdop       float64
}

type gst struct {
	clock    clock
	lat, lon float64 // standard deviations in meters; 0 = not stated
}

// fieldParser parses fields and keeps the first error.
type fieldParser struct {
	sentence
	err error
}

func (f *fieldParser) text(n int) string { return f.fields[n-1] }

func (f *fieldParser) fail(n int, what string) {
	if f.err == nil {
		f.err = fmt.Errorf("%s field %d: %q is no %s", f.kind, n, f.text(n), what)
	}
}

// count fails unless the number of fields is an allowed one.
func (f *fieldParser) count(allowed ...int) bool {
	if slices.Contains(allowed, len(f.fields)) {
		return true
	}
	f.err = fmt.Errorf("%s with %d fields, not %d", f.kind, len(f.fields), allowed[0])
	return false
}

// gga and the others parse one kind of sentence. The result is void if there is an error.
func (f *fieldParser) gga() (g gga) {
	if f.count(14) {
		g = gga{
			clock: f.clock(1), at: f.coordinates(2), kind: f.quality(6), satellites: f.satellites(7),
			hdop: f.hdop(8), altitude: f.altitude(9), correctionAge: f.age(13), station: f.station(14),
		}
	}
	return g
}

func (f *fieldParser) rmc() (m rmc) {
	if f.count(13, 12, 11) {
		m = rmc{clock: f.clock(1), at: f.coordinates(3), valid: f.text(2) == "A", date: f.date(9)}
		if len(f.fields) > 11 {
			m.mode = f.text(12)
		}
		if !m.valid && f.text(2) != "V" {
			f.fail(2, "status")
		}
	}
	return m
}

func (f *fieldParser) gsa() (a gsa) {
	if f.count(17, 18) {
		a = gsa{dimensions: f.text(2), hdop: f.hdop(16)}
	}
	return a
}

func (f *fieldParser) gst() (g gst) {
	if f.count(8) {
		g = gst{clock: f.clock(1), lat: f.number(6), lon: f.number(7)}
		if f.err == nil && !g.clock.known {
			f.err = errors.New("GST without a time belongs to no position")
		}
	}
	return g
}

// age is a number of seconds. An unreadable one counts as not stated.
func (f *fieldParser) age(n int) *float64 {
	if v, ok := plainNumber(f.text(n)); ok {
		return &v
	}
	return nil
}

// station is a number of up to four digits; anything else counts as not stated.
func (f *fieldParser) station(n int) string {
	text := f.text(n)
	if len(text) > 4 || strings.Trim(text, "0123456789") != "" {
		return ""
	}
	return text
}

// number is not negative; 0 = not stated.
func (f *fieldParser) number(n int) float64 {
	v, ok := plainNumber(f.text(n))
	if !ok && f.text(n) != "" {
		f.fail(n, "number")
	}
	return v
}

// plainNumber accepts digits with at most one point: no sign, exponent or name.
func plainNumber(text string) (float64, bool) {
	if text == "" || len(text) > 20 || strings.Trim(text, "0123456789.") != "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil
}

func (f *fieldParser) clock(n int) clock {
	text := f.text(n)
	if text == "" {
		return clock{}
	}
	whole, _, _ := strings.Cut(text, ".")
	v, ok := plainNumber(text)
	hours, minutes, seconds := math.Floor(v/10000), math.Floor(math.Mod(v, 10000)/100), math.Mod(v, 100)
	if !ok || len(whole) != 6 || hours > 23 || minutes > 59 || seconds >= 61 { // a leap second has the number 60
		f.fail(n, "time of day")
		return clock{}
	}
	ms := math.Round((hours*3600 + minutes*60 + seconds) * 1000)
	return clock{true, time.Duration(ms) * time.Millisecond}
}

func (f *fieldParser) date(n int) time.Time {
	text := f.text(n)
	if text == "" || text == "000000" {
		return time.Time{}
	}
	at, err := time.Parse("020106", text)
	if err != nil {
		f.fail(n, "date")
		return time.Time{}
	}
	if at.Year() < 1980 { // GPS time began in 1980
		at = at.AddDate(100, 0, 0)
	}
	return at
}

// coordinates are the four fields from n on. Some receivers send zeros for unknown.
func (f *fieldParser) coordinates(n int) coordinates {
	if f.text(n) == "" && f.text(n+2) == "" {
		return coordinates{}
	}
	p := coordinates{lat: f.angle(n, "N", "S", 90), lon: f.angle(n+2, "E", "W", 180)}
	p.known = f.err == nil && (p.lat != 0 || p.lon != 0)
	return p
}

// angle is dddmm.mmm and the letter in the field after it.
func (f *fieldParser) angle(n int, plus, minus string, limit float64) float64 {
	v, ok := plainNumber(f.text(n))
	degrees := math.Floor(v/100) + math.Mod(v, 100)/60
	if !ok || math.Mod(v, 100) >= 60 || degrees > limit {
		f.fail(n, "latitude or longitude")
		return 0
	}
	switch f.text(n + 1) {
	case plus:
		return degrees
	case minus:
		return -degrees
	}
	f.fail(n+1, "hemisphere")
	return 0
}

// hdop is 0 if it is not stated; by common practice, 99 and more mean that too.
func (f *fieldParser) hdop(n int) float64 {
	if v := f.number(n); v < 99 {
		return v
	}
	return 0
}

func (f *fieldParser) altitude(n int) *float64 {
	if f.text(n) == "" {
		return nil
	}
	digits, negative := strings.CutPrefix(f.text(n), "-")
	v, ok := plainNumber(digits)
	if !ok {
		f.fail(n, "height")
	}
	if negative {
		v = -v
	}
	return &v
}

// satellites is -1 if it is not stated.
func (f *fieldParser) satellites(n int) int {
	v := f.number(n)
	if v > 999 {
		f.fail(n, "number of satellites")
	}
	if f.text(n) == "" {
		return -1
	}
	return int(v)
}

// qualities are the values of field 6 of GGA; 3 is the precise positioning service, without
// corrections.
var qualities = map[string]FixKind{
	"": NoFix, "0": NoFix, "1": Autonomous, "2": Differential, "3": Autonomous,
	"4": Fixed, "5": Float, "6": Estimated, "7": Manual, "8": Simulator,
}

func (f *fieldParser) quality(n int) FixKind {
	if k, ok := qualities[f.text(n)]; ok {
		return k
	}
	if _, ok := plainNumber(f.text(n)); !ok {
		f.fail(n, "quality")
	}
	return Unknown
}
