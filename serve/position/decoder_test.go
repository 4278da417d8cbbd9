package position

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
)

var noon = time.Date(2026, 11, 25, 10, 15, 31, 0, time.UTC)

// The sentences of one RTK epoch, made up for these tests; checksums reckoned
// by hand with another program.
var rtk = []string{
	"$GNGGA,101530.00,4043.58720,N,07359.73440,W,4,18,0.6,35.214,M,-34.210,M,1.0,0042*5A",
	"$GNRMC,101530.00,A,4043.58720,N,07359.73440,W,0.04,,251126,12.9,W,R,V*60",
	"$GNGST,101530.00,1.1,0.015,0.010,41.0,0.014,0.011,0.021*79",
	"$GNVTG,,T,,M,0.04,N,0.074,K,R*19",
	"$GNGSA,A,3,02,05,07,13,15,30,,,,,,,1.1,0.6,0.9,1*3B",
}

// with puts a checksum to a sentence.
func with(body string) string { return fmt.Sprintf("$%s*%02X", body, checksum(body)) }

// decode gives all epochs of a stream, the last one too.
func decode(o Options, lines ...string) ([]Fix, Counts) {
	d := NewDecoder(o)
	all := d.Write([]byte(strings.Join(lines, "\r\n")+"\r\n"), noon)
	if f, ok := d.Pending(); ok {
		all = append(all, f)
	}
	return all, d.Counts()
}

func one(t *testing.T, lines ...string) Fix {
	t.Helper()
	all, c := decode(Options{}, lines...)
	if len(all) != 1 || c.Rejected > 0 {
		t.Fatalf("%d epochs, %d sentences refused (%s)", len(all), c.Rejected, c.Rejection)
	}
	return all[0]
}

// The examples that descriptions of NMEA 0183 print ("NMEA Revealed" of 12 July
// 2025, and one known everywhere), and the RTK epoch above.
func TestWorkedExamples(t *testing.T) {
	const munich = "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47"
	for _, c := range []struct {
		name     string
		lines    []string
		kind     FixKind
		lat, lon float64
		meters   float64
		grounds  ErrorBasis
		live     bool
	}{
		{"GGA alone", []string{munich}, Autonomous, 48.1173, 11.5166667, 0.9 * 15, FromHDOP, true},
		{"RMC alone", []string{"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A"}, Autonomous, 48.1173, 11.5166667, 0, NotStated, true},
		{"GGA, and GSA with another HDOP", []string{munich, "$GPGSA,A,3,04,05,,09,12,,,24,,,,,2.5,1.3,2.1*39"}, Autonomous, 48.1173, 11.5166667, 13.5, FromHDOP, true},
		{"RMC with an empty course", []string{"$GNRMC,001031.00,A,4404.13993,N,12118.86023,W,0.146,,100117,,,A*7B"}, Autonomous, 44.068998833, -121.314337167, 0, NotStated, true},
		{"RMC and GSA", []string{"$GNRMC,001031.00,A,4404.13993,N,12118.86023,W,0.146,,100117,,,A*7B", "$GNGSA,A,3,80,71,73,79,69,,,,,,,,1.83,1.09,1.47*17"}, Autonomous, 44.068998833, -121.314337167, 1.09 * 15, FromHDOP, true},
		{"92 bytes", []string{"$GNGGA,132819.60,4134.49795459,N,09345.03431408,W,2,10,0.9,278.161,M,-31.442,M,6.6,0133*6A"}, Differential, 41.574965910, -93.750571901, 0.9 * 3.75, FromHDOP, true},
		{"no fix", []string{"$GPRMC,194812.00,V,,,,,,,290317,,,N*74"}, NoFix, 0, 0, 0, NotStated, false},
		{"RTK", rtk, Fixed, 40.7264533, -73.9955733, math.Hypot(0.014, 0.011) * 1.95996, FromGST, true},
		{"RTK, GST before GGA", []string{rtk[2], rtk[0]}, Fixed, 40.7264533, -73.9955733, 0.0349, FromGST, true},
		{"RTK without GST has no circle", []string{rtk[0], rtk[4]}, Fixed, 40.7264533, -73.9955733, 0, NotStated, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := one(t, c.lines...)
			if f.Kind != c.kind || f.Live != c.live || f.Basis != c.grounds {
				t.Errorf("kind %q, live %v, circle from %q", f.Kind, f.Live, f.Basis)
			}
			if math.Abs(f.Lat-c.lat) > 5e-8 || math.Abs(f.Lon-c.lon) > 5e-8 {
				t.Errorf("at %.8f %.8f, want %.8f %.8f", f.Lat, f.Lon, c.lat, c.lon)
			}
			if math.Abs(f.Error-c.meters) > 1e-4 {
				t.Errorf("error %.5f m, want %.5f", f.Error, c.meters)
			}
		})
	}
}

// A published GST: 0.9 m and 0.5 m make 1.030 m of DRMS. Were the error round, 95 %
// would lie within 1.78 m; along one line, within 2.018 m.
func TestCircleFromSigmas(t *testing.T) {
	f := one(t, with("GPGGA,182141.000,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"), "$GPGST,182141.000,15.5,15.3,7.2,21.8,0.9,0.5,0.8*54")
	if math.Abs(f.Error-2.018) > 0.001 {
		t.Errorf("%.4f m, want 2.018", f.Error)
	}
	f = one(t, rtk[0], with("GNGST,101530.00,,,,,1.0,1.0,1.0"))
	if math.Abs(f.Error-1.95996*math.Sqrt2) > 1e-6 {
		t.Errorf("%.5f m, want 2.7718", f.Error)
	}
	// the root mean square of the ranges in field 2 may be anything
	f = one(t, rtk[0], with("GNGST,101530.00,235111,,,,2.3,3.5,4.0"))
	if math.Abs(f.Error-math.Hypot(2.3, 3.5)*1.95996) > 1e-6 {
		t.Errorf("%.5f m", f.Error)
	}
	for _, void := range []string{",,", "0.0,0.0,0.0", "0.5,,"} {
		if f := one(t, rtk[0], with("GNGST,101530.00,,,,,"+void)); f.Basis != NotStated {
			t.Errorf("%q gave a circle of %g m", void, f.Error)
		}
	}
}

// A circle from sigmas holds 95 % of the error however long and thin it is, and
// whichever way it lies: a sigma of 1 m along one line and less across it.
func TestCircleHoldsEnough(t *testing.T) {
	for _, across := range []float64{0.001, 0.1, 0.3, 0.5, 0.556, 0.8, 1} {
		radius := math.Hypot(1, across) * drms95 // turning the ellipse leaves the root as it is
		const steps = 200_000
		held := 0.0
		for i := range steps { // of directions; the integral along each is known
			sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / steps)
			a := cos*cos + sin*sin/(across*across)
			held += (1 - math.Exp(-radius*radius*a/2)) / a / across / steps
		}
		if held < 0.95-1e-5 || held > 0.98 {
			t.Errorf("across %g: it holds %.4f", across, held)
		}
	}
}

// The lowest word counts, and what is no live position never looks like one.
func TestKinds(t *testing.T) {
	gga := func(quality string) string {
		return with("GNGGA,101530.00,4043.58720,N,07359.73440,W," + quality + ",18,0.6,35.2,M,-34.2,M,,")
	}
	rmc := func(status, mode string) string {
		return with("GNRMC,101530.00," + status + ",4043.58720,N,07359.73440,W,0.04,,251126,,," + mode)
	}
	old := with("GPRMC,101530.00,A,4043.58720,N,07359.73440,W,0.04,,251126,,")
	for _, c := range []struct {
		name  string
		lines []string
		want  FixKind
	}{
		{"quality 0", []string{gga("0")}, NoFix}, {"quality 1", []string{gga("1")}, Autonomous}, {"quality 2", []string{gga("2")}, Differential},
		{"quality 3", []string{gga("3")}, Autonomous}, {"quality 4", []string{gga("4")}, Fixed}, {"quality 5", []string{gga("5")}, Float},
		{"quality 6", []string{gga("6")}, Estimated}, {"quality 7", []string{gga("7")}, Manual}, {"quality 8", []string{gga("8")}, Simulator},
		{"quality 9", []string{gga("9")}, Unknown}, {"quality empty", []string{gga("")}, NoFix},
		{"mode A", []string{rmc("A", "A")}, Autonomous}, {"mode D", []string{rmc("A", "D")}, Differential}, {"mode P", []string{rmc("A", "P")}, Autonomous},
		{"mode F", []string{rmc("A", "F")}, Float}, {"mode R", []string{rmc("A", "R")}, Fixed}, {"mode E", []string{rmc("V", "E")}, Estimated},
		{"mode M", []string{rmc("A", "M")}, Manual}, {"mode S", []string{rmc("A", "S")}, Simulator}, {"mode N", []string{rmc("A", "N")}, NoFix},
		{"mode X", []string{rmc("A", "X")}, Unknown}, {"status V", []string{rmc("V", "A")}, NoFix}, {"status V, mode R", []string{rmc("V", "R")}, NoFix},
		{"no mode", []string{old}, Autonomous},
		{"4 and R", []string{gga("4"), rmc("A", "R")}, Fixed}, {"4 and V R", []string{gga("4"), rmc("V", "R")}, Fixed}, {"4 and F", []string{rmc("A", "F"), gga("4")}, Float},
		{"4 and the D of old receivers", []string{gga("4"), rmc("A", "D")}, Fixed}, {"5 and no mode", []string{gga("5"), old}, Float},
		{"1 and S", []string{gga("1"), rmc("A", "S")}, Simulator}, {"8 and A", []string{gga("8"), rmc("A", "A")}, Simulator},
		{"1 and V", []string{gga("1"), rmc("V", "A")}, NoFix}, {"0 and A", []string{gga("0"), rmc("A", "A")}, NoFix},
		{"1, and no system has a fix", []string{gga("1"), with("GNGSA,A,1,,,,,,,,,,,,,,,,1"), with("GNGSA,A,1,,,,,,,,,,,,,,,,2")}, NoFix},
		{"1, and one system has none", []string{gga("1"), with("GNGSA,A,1,,,,,,,,,,,,,,,,1"), with("GNGSA,A,3,,,,,,,,,,,,,,,,2")}, Autonomous},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := one(t, c.lines...)
			if f.Kind != c.want || f.Live != c.want.FromSatellites() {
				t.Errorf("%q, live %v; want %q", f.Kind, f.Live, c.want)
			}
			if f.Kind == NoFix && (f.Lat != 0 || f.Error != 0) {
				t.Errorf("no fix, but a place: %+v", f)
			}
			if !f.Live && f.Basis == FromHDOP {
				t.Error("a circle from satellites that were not used")
			}
			if (f.Kind == Fixed || f.Kind == Float) && f.Basis == FromHDOP {
				t.Error("a circle from the geometry of codes for a position from the carrier")
			}
			told, _ := decode(Options{}, append(c.lines, with("GNGST,101530.00,,,,,0.5,0.5,0.5"))...)
			if made := f.Kind == NoFix || f.Kind == Simulator || f.Kind == Manual; made == (told[0].Error > 0) {
				t.Errorf("with the receiver's own sigmas: error %g", told[0].Error)
			}
			played, _ := decode(Options{Recorded: true}, c.lines...)
			if played[0].Live || !played[0].Recorded {
				t.Error("a recorded fix looks live")
			}
		})
	}
}

func TestDetails(t *testing.T) {
	f := one(t, rtk...)
	if f.Satellites != 18 || f.HDOP != 0.6 || *f.Altitude != 35.214 || f.Is2D || !f.Received.Equal(noon) {
		t.Errorf("%+v", f)
	}
	if want := time.Date(2026, 11, 25, 10, 15, 30, 0, time.UTC); !f.Time.Equal(want) {
		t.Errorf("time %v", f.Time)
	}
	void := one(t, with("GNGGA,,0000.0000,N,00000.0000,E,1,,99.99,,M,,M,,"))
	if void.Kind != NoFix || void.Satellites != -1 || void.HDOP != 0 || void.Altitude != nil || !void.Time.IsZero() {
		t.Errorf("zeros that stand for nothing: %+v", void)
	}
	deep := one(t, with("GNGGA,101530,0000.0000,S,00000.6000,E,1,4,9,-3.5,M,,M,,"), with("GPGSA,A,2,1,2,3,,,,,,,,,,9,9,"))
	if deep.Lon != 0.01 || *deep.Altitude != -3.5 || !deep.Is2D || deep.Error != 135 {
		t.Errorf("%+v", deep)
	}
}

// A day is found for a time of day: also next to midnight.
func TestDayWithoutADate(t *testing.T) {
	for _, c := range []struct{ now, clock, want string }{
		{"2026-11-25T10:15:31Z", "101530", "2026-11-25T10:15:30Z"},
		{"2026-11-26T00:00:01Z", "235959", "2026-11-25T23:59:59Z"},
		{"2026-11-25T23:59:59Z", "000000", "2026-11-26T00:00:00Z"},
	} {
		now, err := time.Parse(time.RFC3339, c.now)
		if err != nil {
			t.Fatal(err)
		}
		d := NewDecoder(Options{})
		d.Write([]byte(with("GPGGA,"+c.clock+",4807.038,N,01131.000,E,1,4,2,,M,,M,,")+"\n"), now)
		if f, _ := d.Pending(); f.Time.Format(time.RFC3339) != c.want {
			t.Errorf("%s at %s: %v", c.clock, c.now, f.Time)
		}
	}
	old := one(t, "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A")
	if old.Time.Year() != 1994 {
		t.Errorf("a date of 1994 became %v", old.Time)
	}
}

// Sentences of one epoch are joined by their time, and those that come too
// late do not make an old position new.
func TestEpochs(t *testing.T) {
	gga := func(second int, quality string) string {
		return with(fmt.Sprintf("GNGGA,1015%02d.00,4043.58720,N,07359.73440,W,%s,18,0.6,35.2,M,-34.2,M,,", second, quality))
	}
	gst := func(second int) string { return with(fmt.Sprintf("GNGST,1015%02d.00,,,,,0.1,0.1,0.1", second)) }
	all, c := decode(Options{}, gga(1, "4"), gst(1), gga(2, "4"), gst(1), gga(1, "4"), gga(3, "5"), gst(3), gst(4), gga(5, "4"))
	var got []string
	for _, f := range all {
		got = append(got, fmt.Sprintf("%d %s %q", f.Time.Second(), f.Kind, f.Basis))
	}
	want := []string{`1 rtk-fixed "gst"`, `2 rtk-fixed ""`, `3 rtk-float "gst"`, `5 rtk-fixed ""`}
	if !slices.Equal(got, want) || c.Rejected > 0 {
		t.Errorf("got %q, refused %d (%s)", got, c.Rejected, c.Rejection)
	}
}

// Until its time changes an epoch keeps the moment it came in: a receiver that
// says the same again and again grows old.
func TestStuckReceiver(t *testing.T) {
	d := NewDecoder(Options{})
	for i := range 20 {
		if done := d.Write([]byte(rtk[0]+"\r\n"), noon.Add(time.Duration(i)*time.Second)); len(done) > 0 {
			t.Fatal("the same epoch was completed")
		}
		f, ok := d.Pending()
		if !ok || f.Age(noon.Add(time.Duration(i)*time.Second)) != time.Duration(i)*time.Second {
			t.Fatalf("after %d s: %v, %v", i, ok, f.Received)
		}
	}
}

func TestAge(t *testing.T) {
	now := time.Now()
	f := Fix{Received: now}
	if f.Age(now.Add(3*time.Second)) != 3*time.Second || f.Age(now.Add(-time.Hour)) != 0 {
		t.Error("age by one clock")
	}
	// a computer that slept: its running clock stood still, the wall clock did not
	if got := f.Age(now.Add(time.Hour).Round(0)); got != time.Hour {
		t.Errorf("after sleep: %v", got)
	}
}

// A code solution with a stated error of 3 mm, and corrections that are 55 s and
// 120 s old: no error is told, and why. √(3² + 3²) mm is 4.2 mm, 0.3 m is the
// least that satellites alone have.
func TestErrorsThatCannotBe(t *testing.T) {
	gga := func(quality, age string) string {
		return with("GNGGA,101530.00,4043.58720,N,07359.73440,W," + quality + ",18,0.6,35.214,M,-34.210,M," + age + ",0042")
	}
	gst := func(sigma string) string { return with("GNGST,101530.00,1.1,,,," + sigma + "," + sigma + ",0.021") }
	for name, c := range map[string]struct {
		lines   []string
		grounds ErrorBasis
		meters  float64
		age     float64 // -1 = not told
	}{
		"alone within 3 mm":        {[]string{gga("1", ""), gst("0.003")}, Implausible, 0, -1},
		"alone within 1 m":         {[]string{gga("1", ""), gst("1.0")}, FromGST, math.Sqrt2 * 1.95996, -1},
		"corrected within 1 cm":    {[]string{gga("2", "2.0"), gst("0.01")}, Implausible, 0, 2},
		"RTK, corrections of 55 s": {[]string{gga("4", "55.0"), gst("0.014")}, OldCorrections, 0, 55},
		"RTK, corrections of 1 s":  {[]string{gga("4", "1.0"), gst("0.014")}, FromGST, math.Sqrt2 * 0.014 * 1.95996, 1},
		"codes, 120 s":             {[]string{gga("2", "120")}, OldCorrections, 0, 120},
		"codes, 8 s":               {[]string{gga("2", "8")}, FromHDOP, 0.6 * 3.75, 8},
	} {
		f := one(t, c.lines...)
		if f.Basis != c.grounds || math.Abs(f.Error-c.meters) > 1e-6 {
			t.Errorf("%s: %q, %v m", name, f.Basis, f.Error)
		}
		if (f.CorrectionAge != nil) != (c.age >= 0) || f.CorrectionAge != nil && *f.CorrectionAge != c.age {
			t.Errorf("%s: age %v", name, f.CorrectionAge)
		}
	}
}
