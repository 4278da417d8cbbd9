package raster

import (
	"bytes"
	"errors"
	"testing"

	"groundsheet/tiles/fault"
)

// TestGlanceIsProve: of whole images it says the same, padded or not; of cut
// ones and of other things it says that they are none.
func TestGlanceIsProve(t *testing.T) {
	for _, s := range samples(t) {
		t.Run(s.name, func(t *testing.T) {
			for _, data := range [][]byte{s.data, append(bytes.Clone(s.data), 0, 0, 0)} {
				if p, err := Glance(data); err != nil || p != s.want {
					t.Errorf("%v, %v; want %v", p, err, s.want)
				}
			}
			for n := range s.data {
				if _, err := Glance(s.data[:n]); err == nil {
					if _, err := Prove(s.data[:n], 0); err != nil {
						t.Fatalf("the first %d of %d bytes get through", n, len(s.data))
					}
				}
			}
		})
	}
	for _, other := range []string{"", "<html>", "RIFF", "GIF89a", "\xff\xd8\xff\xd9", "\xff\xd8\xff\xda\x00\x02\xff\xd9", pngSignature + endPNG} {
		if p, err := Glance([]byte(other)); err == nil {
			t.Errorf("%q is %v", other, p)
		}
	}
}

// FuzzGlance: what Prove lets through, Glance does, and says the same of it; it
// never lets anything through that does not begin as an image.
func FuzzGlance(f *testing.F) {
	for _, s := range samples(f) {
		f.Add(s.data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Glance(data)
		if q, proved := Prove(data, 0); proved == nil && (err != nil || p != q) {
			t.Errorf("proved as %v, glanced at as %v, %v", q, p, err)
		}
		var flaw *fault.Fault
		if err != nil && !errors.As(err, &flaw) {
			t.Errorf("%T", err)
		}
		if err == nil && (p.Kind == "" || p.Width <= 0 || p.Height <= 0) {
			t.Errorf("%+v", p)
		}
	})
}
