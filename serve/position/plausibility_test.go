package position

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// corrected is a GGA with an age of corrections and a station.
func corrected(quality int, age, station string) string {
	return with(fmt.Sprintf("GNGGA,101530.00,4043.58720,N,07359.73440,W,%d,18,0.6,35.2,M,-34.2,M,%s,%s", quality, age, station))
}

func sigmas(lat, lon float64) string {
	return with(fmt.Sprintf("GNGST,101530.00,,,,,%.3f,%.3f,1.0", lat, lon))
}

// Corrections have an age, which is told; from too old ones comes no circle.
func TestOldCorrections(t *testing.T) {
	for _, c := range []struct {
		quality int
		age     string
		told    float64 // -1 for not told
		old     bool
	}{
		{4, "55.0", 55, true}, {4, "10.0", 10, false}, {4, "10.1", 10.1, true}, {5, "11", 11, true},
		{2, "120", 120, true}, {2, "30.0", 30, false}, {2, "30.1", 30.1, true}, {4, "0.0", 0, false},
		{4, "", -1, false}, {2, "", -1, false}, {4, "-3", -1, false}, {1, "120", -1, false}, {8, "120", -1, false},
	} {
		for _, gst := range [][]string{nil, {sigmas(0.6, 0.6)}} {
			f := one(t, append([]string{corrected(c.quality, c.age, "0042")}, gst...)...)
			if told := f.CorrectionAge != nil; told != (c.told >= 0) || told && *f.CorrectionAge != c.told || f.Kind.Corrected() != (f.Station == "0042") {
				t.Errorf("quality %d, %q: age %v, station %q", c.quality, c.age, f.CorrectionAge, f.Station)
			}
			if old := f.Basis == OldCorrections; old != c.old || old && f.Error != 0 {
				t.Errorf("quality %d, %q: circle of %g m from %q", c.quality, c.age, f.Error, f.Basis)
			}
		}
	}
	if f := one(t, rtk...); *f.CorrectionAge != 1 || f.Station != "0042" || f.Basis != FromGST {
		t.Errorf("%+v", f)
	}
	if f := one(t, corrected(4, "1.0", "a base")); f.Station != "" || *f.CorrectionAge != 1 {
		t.Errorf("%+v", f)
	}
}

// What a receiver states is believed as far as its kind of solution can have
// it: by hand, 1.95996 × √(0.003² + 0.003²) = 0.008315; √(0.35² + 0.35²) = 0.4950 and
// √(0.36² + 0.35²) = 0.5021, at 95 % 0.9841; √(0.07² + 0.07²) = 0.0990 and
// √(0.08² + 0.07²) = 0.1063, at 95 % 0.2083.
func TestStatedErrorThatCannotBe(t *testing.T) {
	for _, c := range []struct {
		quality       int
		lat, lon      float64
		grounds       ErrorBasis
		error, stated float64
	}{
		{1, 0.003, 0.003, Implausible, 0, 0.008315}, {3, 0.003, 0.003, Implausible, 0, 0.008315},
		{1, 0.35, 0.35, Implausible, 0, 0.9702}, {1, 0.36, 0.35, FromGST, 0.9841, 0.9841},
		{2, 0.003, 0.003, Implausible, 0, 0.008315}, {2, 0.07, 0.07, Implausible, 0, 0.1940}, {2, 0.08, 0.07, FromGST, 0.2083, 0.2083},
		{4, 0.003, 0.003, FromGST, 0.008315, 0.008315}, {5, 0.003, 0.003, FromGST, 0.008315, 0.008315},
	} {
		f := one(t, corrected(c.quality, "", ""), sigmas(c.lat, c.lon))
		if f.Basis != c.grounds || math.Abs(f.Error-c.error) > 1e-4 || math.Abs(f.StatedError-c.stated) > 1e-4 {
			t.Errorf("quality %d, %g %g: %g m from %q, stated %g m", c.quality, c.lat, c.lon, f.Error, f.Basis, f.StatedError)
		}
		if !f.Live {
			t.Errorf("quality %d is not live any more", c.quality)
		}
	}
}

// A time 10 s or more from this computer's clock, either way, is late; without a
// date the nearest day counts, and is not told as the receiver's. Sentences come
// at 10:15:31 on 25 November 2026.
func TestLate(t *testing.T) {
	rmc := func(clock, date string) string {
		return with("GNRMC," + clock + ",A,4043.58720,N,07359.73440,W,0.04,," + date + ",,,A")
	}
	gga := func(clock string) string {
		return with("GNGGA," + clock + ",4043.58720,N,07359.73440,W,1,18,0.6,35.2,M,-34.2,M,,")
	}
	for _, c := range []struct {
		name, line string
		ahead      float64
		late, day  bool
	}{
		{"a second", rmc("101530.00", "251126"), -1, false, true},
		{"9.9 s behind", rmc("101521.10", "251126"), -9.9, false, true},
		{"10 s behind", rmc("101521.00", "251126"), -10, true, true},
		{"10 s ahead", rmc("101541.00", "251126"), 10, true, true},
		{"2 h behind", rmc("081531.00", "251126"), -7200, true, true},
		{"5 min ahead", rmc("102031.00", "251126"), 300, true, true},
		{"1024 weeks behind", rmc("101531.00", "110407"), -1024 * 7 * 86400, true, true},
		{"no date", gga("101530.00"), -1, false, false},
		{"no date, 2 h behind", gga("081531.00"), -7200, true, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := one(t, c.line)
			ahead, told := f.ClockOffset()
			if !told || ahead.Seconds() != c.ahead || f.ClocksDiffer() != c.late || f.HasDate != c.day {
				t.Errorf("ahead %v (%v), late %v, day told %v", ahead, told, f.ClocksDiffer(), f.HasDate)
			}
			played, _ := decode(Options{Recorded: true}, c.line)
			if _, told := played[0].ClockOffset(); told || played[0].ClocksDiffer() {
				t.Error("a recording is late")
			}
		})
	}
	if _, told := one(t, gga("")).ClockOffset(); told {
		t.Error("ahead without a time")
	}
}

// A state is live as long as the receiver has a position, and 5 s at most.
func TestStateIsLive(t *testing.T) {
	fix := &Fix{Kind: Fixed, Live: true, Received: noon}
	for _, c := range []struct {
		phase Phase
		fix   *Fix
		after time.Duration
		want  bool
	}{
		{PhaseFix, fix, 0, true}, {PhaseFix, fix, 5 * time.Second, true}, {PhaseFix, fix, 5001 * time.Millisecond, false},
		{PhaseNoFix, fix, 0, false}, {PhaseSilent, fix, 0, false}, {PhaseAway, fix, 0, false}, {PhaseFix, nil, 0, false}, {PhaseFix, &Fix{Received: noon}, 0, false},
	} {
		if got := (FeedState{Phase: c.phase, Fix: c.fix}).Live(noon.Add(c.after)); got != c.want {
			t.Errorf("%s, %v, %v: %v", c.phase, c.fix, c.after, got)
		}
	}
}
