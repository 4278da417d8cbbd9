package raster

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"groundsheet/tiles/fault"
)

func TestWholeImagesAreProvedAndDecoded(t *testing.T) {
	for _, s := range samples(t) {
		t.Run(s.name, func(t *testing.T) {
			p, err := Prove(s.data, 0)
			if err != nil || p != s.want {
				t.Errorf("Prove = %v, %v; want %v", p, err, s.want)
			}
			m, err := Decode(s.data)
			if err != nil {
				t.Fatal(err)
			}
			if got := m.Bounds().Size(); got.X != s.want.Width || got.Y != s.want.Height {
				t.Errorf("decoded to %v, want %d×%d", got, s.want.Width, s.want.Height)
			}
			if _, err := Prove(append(bytes.Clone(s.data), 0, 0, 0), 0); err != nil {
				t.Errorf("with zero padding: %v", err)
			}
			_, err = Prove(append(bytes.Clone(s.data), 0, '<', 0), 0)
			wantFlaw(t, err, Trailing)
		})
	}
}

func TestEveryTruncationIsRefused(t *testing.T) {
	for _, s := range samples(t) {
		t.Run(s.name, func(t *testing.T) {
			for n := range s.data {
				_, err := Prove(s.data[:n], 0)
				var f *fault.Fault
				if !errors.As(err, &f) {
					t.Fatalf("the first %d of %d bytes: error %v, want a flaw", n, len(s.data), err)
				}
				if _, err := Decode(s.data[:n]); err == nil {
					t.Fatalf("the first %d of %d bytes decoded", n, len(s.data))
				}
			}
		})
	}
}

func TestTruncationSaysSo(t *testing.T) {
	for _, s := range samples(t) {
		t.Run(s.name, func(t *testing.T) {
			for _, n := range []int{4, 11, len(s.data) / 2, len(s.data) - 1} {
				_, err := Prove(s.data[:n], 0)
				wantFlaw(t, err, Truncated)
			}
		})
	}
}

func TestEveryFlippedBitOfAPNGIsSeen(t *testing.T) {
	whole := asPNG(t, slope(16))
	for bit := range len(whole) * 8 {
		data := bytes.Clone(whole)
		data[bit/8] ^= 1 << (bit % 8)
		if p, err := Prove(data, 0); err == nil {
			t.Errorf("bit %d flipped: proved as %v", bit, p)
		}
	}
}

func TestOtherThingsAreNamed(t *testing.T) {
	png, jpg := asPNG(t, slope(16)), file(t, "baseline.jpg")
	lossy := file(t, "lossy.webp")
	sof := bytes.Index(jpg, []byte{0xff, 0xc0})
	with := func(data []byte, at int, b ...byte) []byte {
		return slices.Concat(data[:at], b, data[at+len(b):])
	}
	for _, c := range []struct {
		name string
		data []byte
		why  *fault.Kind
	}{
		{"nothing", nil, Empty},
		{"html", []byte("<!DOCTYPE html><title>Sign in</title>"), HTML},
		{"html after blanks and in small letters", []byte("\n\t <html><body>no such tile"), HTML},
		{"service exception", []byte(`<?xml version="1.0"?><ServiceExceptionReport/>`), XML},
		{"xml without its declaration", []byte("<ServiceExceptionReport/>"), XML},
		{"json", []byte(`{"error":"no such layer"}`), NotImage},
		{"gif", []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"), NotImage},
		{"gzip", []byte("\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\xff"), NotImage},
		{"zeros", make([]byte, 100), NotImage},
		{"riff of another sort", []byte("RIFF\x04\x00\x00\x00WAVE"), NotImage},
		{"png header only", png[:33], Truncated},
		{"png without data", slices.Concat(png[:33], png[len(png)-12:]), Broken},
		{"png that begins with data", slices.Concat(png[:8], png[33:]), Broken},
		{"png of no width", declare(png, 0, 16), Broken},
		{"png of impossible height", declare(png, 16, 1<<31), Broken},
		{"jpeg without a scan", []byte{0xff, 0xd8, 0xff, 0xd9}, Broken},
		{"jpeg of no height", with(jpg, sof+5, 0, 0), Broken},
		{"jpeg lossless", with(jpg, sof+1, 0xc3), Variant},
		{"jpeg arithmetic", with(jpg, sof+1, 0xc9), Variant},
		{"jpeg of 12 bits", with(jpg, sof+4, 12), Variant},
		{"jpeg with two frames", slices.Concat(jpg[:sof], jpg[sof:sof+19], jpg[sof:]), Broken},
		{"jpeg with bytes between segments", slices.Concat(jpg[:sof], []byte{1, 2}, jpg[sof:]), Broken},
		{"webp animated", file(t, "animated.webp"), Variant},
		{"webp without its start code", with(lossy, 23, 0), Broken},
		{"webp with a short chunk length", with(lossy, 16, 0x20), Broken},
		{"webp whose canvas differs", with(file(t, "alpha.webp"), 24, 16), Broken},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Prove(c.data, 0)
			wantFlaw(t, err, c.why)
			_, err = Decode(c.data)
			wantFlaw(t, err, c.why)
		})
	}
}

func TestWrongSize(t *testing.T) {
	for _, s := range samples(t) {
		t.Run(s.name, func(t *testing.T) {
			_, err := Prove(s.data, 256)
			wantFlaw(t, err, WrongSize)
			want := fmt.Sprintf("256×256 expected, %d×%d came", s.want.Width, s.want.Height)
			if err.Error() != want {
				t.Errorf("says %q, want %q", err, want)
			}
			_, err = Prove(s.data, s.want.Width)
			if square := s.want.Width == s.want.Height; square != (err == nil) {
				t.Errorf("side %d: error %v", s.want.Width, err)
			}
		})
	}
}

func TestPixelBombsAreRefusedBeforeDecoding(t *testing.T) {
	jpg := bytes.Clone(file(t, "baseline.jpg"))
	copy(jpg[bytes.Index(jpg, []byte{0xff, 0xc0})+5:], "\xff\xff\xff\xff")
	webp := bytes.Clone(file(t, "lossless.webp"))
	copy(webp[21:], "\xff\xff\xff\x0f")
	for _, c := range []struct {
		name string
		data []byte
	}{
		{"png 60000×60000", declare(asPNG(t, slope(16)), 60000, 60000)},
		{"png one row too many", declare(asPNG(t, slope(16)), MaxSide, MaxSide+1)},
		{"png with dimensions that overflow", declare(asPNG(t, slope(16)), math.MaxInt32, math.MaxInt32)},
		{"jpeg 65535×65535", jpg},
		{"webp 16384×16384", webp},
	} {
		t.Run(c.name, func(t *testing.T) {
			begin := time.Now()
			_, err := Decode(c.data)
			wantFlaw(t, err, TooLarge)
			if took := time.Since(begin); took > time.Second {
				t.Errorf("refused after %v", took)
			}
		})
	}
}

func TestDecodeSeesDamageThatProveCannot(t *testing.T) {
	whole := asPNG(t, slope(16))
	data := declare(whole, 16, 17) // a good checksum over a lie
	if _, err := Prove(data, 0); err != nil {
		t.Fatal(err)
	}
	_, err := Decode(data)
	wantFlaw(t, err, Broken)
	if f := (*fault.Fault)(nil); !errors.As(err, &f) || f.Err == nil {
		t.Error("the decoder's error is lost")
	}
}

func TestMediaTypes(t *testing.T) {
	for kind, want := range map[Kind]string{
		"png": "image/png", "jpg": "image/jpeg", "webp": "image/webp", "pbf": "application/vnd.mapbox-vector-tile", "gif": "application/octet-stream",
	} {
		if got := kind.MediaType(); got != want {
			t.Errorf("%s: %s, want %s", kind, got, want)
		}
	}
}

func FuzzProve(f *testing.F) {
	for _, s := range samples(f) {
		f.Add(s.data, 16)
	}
	f.Add(file(f, "animated.webp"), 0)
	f.Add([]byte("<html>"), 256)
	f.Fuzz(func(t *testing.T, data []byte, side int) {
		p, err := Prove(data, side)
		if err != nil {
			var w *fault.Fault
			if !errors.As(err, &w) {
				t.Fatalf("error %v is not a flaw", err)
			}
			return
		}
		if p.Width < 1 || p.Height < 1 || p.Kind.MediaType() == "application/octet-stream" {
			t.Fatalf("proved as %v", p)
		}
		if side > 0 && (p.Width != side || p.Height != side) {
			t.Fatalf("side %d proved as %v", side, p)
		}
		whole := bytes.TrimRight(data, "\x00")
		if _, err := Prove(whole[:len(whole)/2], side); err == nil {
			t.Fatal("half of it is proved too")
		}
	})
}

func FuzzDecode(f *testing.F) {
	for _, s := range samples(f) {
		f.Add(s.data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := Decode(data)
		if err != nil {
			return
		}
		p, err := Prove(data, 0)
		if size := m.Bounds().Size(); err != nil || size.X != p.Width || size.Y != p.Height {
			t.Fatalf("decoded to %v, proved as %v, %v", size, p, err)
		}
	})
}

func BenchmarkTile(b *testing.B) {
	m := slope(256)
	for _, c := range []struct {
		name string
		data []byte
	}{{"jpeg", asJPEG(b, m)}, {"png", asPNG(b, m)}} {
		b.Run("Prove/"+c.name, func(b *testing.B) {
			b.SetBytes(int64(len(c.data)))
			for b.Loop() {
				if _, err := Prove(c.data, 256); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run("Decode/"+c.name, func(b *testing.B) {
			b.SetBytes(int64(len(c.data)))
			for b.Loop() {
				if _, err := Decode(c.data); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
