package position

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func TestRefused(t *testing.T) {
	for _, c := range []struct{ name, line, why string }{
		{"no checksum", "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,", "no checksum"},
		{"wrong checksum", "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*48", "wrong checksum"},
		{"text after it", "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47x", "wrong checksum"},
		{"one digit", "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*4", "wrong checksum"},
		{"a checksum of one digit that is right", "$GPGSV,A0*8", "wrong checksum"},
		{"a signed checksum", with("GPGSV,1")[:8] + "*+7", "wrong checksum"},
		{"two fields less cancel out", "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M*47", "12 fields, not 14"},
		{"too long", with("GPGSV," + strings.Repeat("1", 200)), "longer than 160"},
		{"bytes that are no text", with("GPGSV,\xb5b"), "no text"},
		{"cut off by the next", "$GPGGA,123519,48", "cut off"},
		{"an empty address", with(""), "no address"},
		{"61 minutes", with("GPGGA,123519,4861.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"), "field 2"},
		{"latitude 91", with("GPGGA,123519,9100.000,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"), "field 2"},
		{"longitude 181", with("GPGGA,123519,4807.038,N,18100.000,E,1,08,0.9,545.4,M,46.9,M,,"), "field 4"},
		{"no hemisphere", with("GPGGA,123519,4807.038,,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"), "field 3"},
		{"hour 24", with("GPGGA,243519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"), "field 1"},
		{"a latitude with an exponent", with("GPGGA,123519,48e2,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"), "field 2"},
		{"a negative latitude", with("GPGGA,123519,-4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"), "field 2"},
		{"not a number of sigmas", with("GPGST,182141,15.5,15.3,7.2,21.8,NaN,0.5,0.8"), "field 6"},
		{"quality in words", with("GPGGA,123519,4807.038,N,01131.000,E,good,08,0.9,545.4,M,46.9,M,,"), "field 6"},
		{"the 31st of February", with("GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,310294,003.1,W"), "field 9"},
		{"a status of its own", with("GPRMC,123519,B,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W"), "status"},
		{"GST without a time", with("GPGST,,15.5,15.3,7.2,21.8,0.9,0.5,0.8"), "without a time"},
	} {
		t.Run(c.name, func(t *testing.T) {
			all, counts := decode(Options{}, c.line, "$")
			if len(all) > 0 || counts.Rejected == 0 {
				t.Fatalf("%d epochs, %d refused", len(all), counts.Rejected)
			}
			first := NewDecoder(Options{})
			first.Write([]byte(c.line+map[bool]string{true: "$", false: "\n"}[strings.HasPrefix(c.why, "cut")]), noon)
			if !strings.Contains(first.Counts().Rejection, c.why) {
				t.Errorf("%q does not say %q", first.Counts().Rejection, c.why)
			}
		})
	}
	// what is not for us is neither counted as wrong nor read
	all, c := decode(Options{}, "!AIVDM,1,1,,A,x,0*00", with("PUBX,00"), rtk[3], "\xb5\x62binary")
	if len(all) > 0 || c.Rejected > 0 || c.Read != 2 || c.OtherBytes == 0 {
		t.Errorf("%d epochs, %+v", len(all), c)
	}
}

// Any one bit flipped in the body or the checksum refuses the sentence, unless
// it only turns the case of a checksum's letter.
func TestEveryFlippedBitIsRefused(t *testing.T) {
	for _, line := range rtk {
		for i := 1; i < len(line); i++ {
			for bit := range 8 {
				b := []byte(line)
				b[i] ^= 1 << bit
				if strings.EqualFold(string(b), line) && i > len(line)-3 {
					continue
				}
				if _, err := parseSentence(string(b)); err == nil {
					t.Fatalf("bit %d of byte %d of %s: %s was taken", bit, i, line, b)
				}
			}
		}
	}
}

// However the stream is cut, the same fixes come out.
func TestAnyCutGivesTheSameFixes(t *testing.T) {
	var stream strings.Builder
	for second := range 40 {
		for _, body := range []string{
			"GNRMC,1015%02d.00,A,4043.58720,N,07359.73440,W,0.04,,251126,12.9,W,R,V", "GNGGA,1015%02d.00,4043.58720,N,07359.73440,W,5,18,0.6,35.214,M,-34.210,M,1.0,0042",
			"GNGST,1015%02d.00,1.1,0.015,0.010,41.0,0.014,0.011,0.021",
		} {
			stream.WriteString(with(fmt.Sprintf(body, second)) + "\r\n")
		}
		stream.WriteString("\xb5\x62\x01\x07$GNGGA,half\r\n")
	}
	all := []byte(stream.String())
	whole := NewDecoder(Options{})
	want := values(t, whole.Write(all, noon))
	rng := rand.New(rand.NewPCG(1, 2))
	for range 300 {
		d := NewDecoder(Options{})
		var got []Fix
		for rest := all; len(rest) > 0; {
			n := min(len(rest), 1+rng.IntN(200))
			got = append(got, d.Write(rest[:n], noon)...)
			rest = rest[n:]
		}
		if values(t, got) != want || d.Counts() != whole.Counts() {
			t.Fatal("another cut gave other fixes")
		}
	}
}

// values writes fixes with what their pointers point to.
func values(t *testing.T, all []Fix) string {
	t.Helper()
	text, err := json.Marshal(all)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func FuzzDecoder(f *testing.F) {
	f.Add([]byte(strings.Join(rtk, "\r\n")), uint8(7))
	f.Add([]byte("$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M*47\n$GPRMC,194812.00,V,,,,,,,290317,,,N*74\n$"), uint8(1))
	f.Fuzz(func(t *testing.T, data []byte, cut uint8) {
		// the fuzzer cannot guess checksums: it gets right ones for its lines
		var stream []byte
		for line := range strings.Lines(string(data)) {
			stream = append(stream, line...)
			if body, _, ok := strings.Cut(strings.TrimPrefix(line, "$"), "*"); ok {
				stream = append(stream, "\n"+with(body)+"\n"...)
			}
		}
		whole, parts := NewDecoder(Options{}), NewDecoder(Options{})
		want := whole.Write(stream, noon)
		var got []Fix
		for rest := stream; len(rest) > 0; {
			n := min(len(rest), int(cut)+1)
			got = append(got, parts.Write(rest[:n], noon)...)
			rest = rest[n:]
		}
		if len(got) != len(want) || whole.Counts() != parts.Counts() {
			t.Fatalf("%d fixes whole, %d in parts", len(want), len(got))
		}
		for _, fix := range want {
			sound(t, fix)
		}
		if fix, ok := whole.Pending(); ok {
			sound(t, fix)
		}
	})
}

func sound(t *testing.T, f Fix) {
	t.Helper()
	switch {
	case math.Abs(f.Lat) > 90 || math.Abs(f.Lon) > 180 || math.IsNaN(f.Lat) || math.IsNaN(f.Lon):
		t.Errorf("at %g %g", f.Lat, f.Lon)
	case math.IsNaN(f.Error) || math.IsInf(f.Error, 0) || f.Error < 0 || (f.Error > 0) != (f.Basis == FromGST || f.Basis == FromHDOP):
		t.Errorf("error %g from %q", f.Error, f.Basis)
	case f.Live && !f.Kind.FromSatellites():
		t.Errorf("%q is live", f.Kind)
	}
}
