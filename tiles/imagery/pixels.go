package imagery

import (
	"encoding/binary"
	"image"
	"io"
	"math"
)

// sourceAlpha reports whether gdalwarp takes the last band for transparency. It
// then leaves it out of the bands that it writes.
func (l layout) sourceAlpha() bool { return l.alpha >= 0 && l.alpha == l.bands-1 && l.bands > 1 }

// read fills a picture from what gdalwarp wrote: for each row one band after the
// other (BIL), in the byte order of this computer, the presence of each pixel last.
func (l layout) read(r io.Reader, img *image.NRGBA, scale []float64) error {
	bands := l.bands + 1
	if l.sourceAlpha() {
		bands = l.bands
	}
	wide := img.Rect.Dx() * valueBytes[l.kind]
	row := make([]byte, bands*wide)
	show := l.shower(scale)
	for y := range img.Rect.Dy() {
		if _, err := io.ReadFull(r, row); err != nil {
			return err
		}
		show(img.Pix[y*img.Stride:y*img.Stride+4*img.Rect.Dx()], func(band int) []byte { return row[band*wide : (band+1)*wide] }, bands-1)
	}
	return nil
}

// shower gives what turns the values of one row into red, green, blue and
// presence; there is the band of presence.
func (l layout) shower(scale []float64) func(to []byte, band func(int) []byte, there int) {
	presence := toner(l.kind, []float64{0, fullAlpha(l.kind)})
	if l.kind == "Byte" {
		presence = toner(l.kind, nil)
	}
	if l.hasMap {
		return func(to []byte, band func(int) []byte, there int) {
			for x, n := range band(0) {
				copy(to[4*x:], l.colors[n][:])
				if band(there)[x] == 0 {
					to[4*x+3] = 0
				}
			}
		}
	}
	var tone [3]func(to, from []byte)
	for i := range tone {
		tone[i] = toner(l.kind, pairOf(scale, i))
	}
	return func(to []byte, band func(int) []byte, there int) {
		tone[0](to, band(l.red))
		tone[1](to[1:], band(l.green))
		tone[2](to[2:], band(l.blue))
		presence(to[3:], band(there))
		if l.alpha >= 0 && !l.sourceAlpha() { // transparency in a band that gdalwarp takes for a color
			own := make([]byte, len(to))
			presence(own, band(l.alpha))
			for x := 0; x < len(to); x += 4 {
				to[x+3] = min(to[x+3], own[x])
			}
		}
		for x := 0; x < len(to); x += 4 {
			if to[x+3] == 0 {
				clear(to[x : x+4])
			}
		}
	}
}

// pairOf is what becomes black and white in the i-th color; nil = as it is.
func pairOf(scale []float64, i int) []float64 {
	switch len(scale) {
	case 2:
		return scale
	case 6:
		return scale[2*i : 2*i+2]
	}
	return nil
}

// toner gives what turns the values of a row into every fourth byte: the same
// tones as gdal_translate -scale makes.
func toner(kind string, pair []float64) func(to, from []byte) {
	if pair == nil && kind == "Byte" {
		return func(to, from []byte) {
			for x, v := range from {
				to[4*x] = v
			}
		}
	}
	if pair == nil {
		pair = []float64{0, 255}
	}
	tone := func(v float64) uint8 { return clamp((v - pair[0]) / (pair[1] - pair[0]) * 255) }
	value, length := valueOf(kind), valueBytes[kind]
	if length > 2 {
		return func(to, from []byte) {
			for x := range len(from) / length {
				to[4*x] = tone(value(from[x*length:]))
			}
		}
	}
	// One look-up instead of a division for each value.
	table, bits := make([]uint8, 1<<(8*length)), make([]byte, 2)
	for i := range table {
		if length == 1 {
			bits[0] = byte(i)
		} else {
			binary.NativeEndian.PutUint16(bits, uint16(i))
		}
		table[i] = tone(value(bits))
	}
	if length == 1 {
		return func(to, from []byte) {
			for x, v := range from {
				to[4*x] = table[v]
			}
		}
	}
	return func(to, from []byte) {
		for x := range len(from) / 2 {
			to[4*x] = table[binary.NativeEndian.Uint16(from[2*x:])]
		}
	}
}

// clamp rounds to the nearest tone; what is no number is black.
func clamp(v float64) uint8 {
	if !(v > 0) {
		return 0
	}
	return uint8(min(v+0.5, 255))
}

// fullAlpha is what gdalwarp writes for a pixel that is wholly there.
func fullAlpha(kind string) float64 {
	switch kind {
	case "UInt16":
		return 65535
	case "Int16":
		return 32767
	}
	return 255
}

// valueOf reads a value of a type.
func valueOf(kind string) func([]byte) float64 {
	n := binary.NativeEndian
	switch kind {
	case "Int8":
		return func(b []byte) float64 { return float64(int8(b[0])) }
	case "UInt16":
		return func(b []byte) float64 { return float64(n.Uint16(b)) }
	case "Int16":
		return func(b []byte) float64 { return float64(int16(n.Uint16(b))) }
	case "UInt32":
		return func(b []byte) float64 { return float64(n.Uint32(b)) }
	case "Int32":
		return func(b []byte) float64 { return float64(int32(n.Uint32(b))) }
	case "Float32":
		return func(b []byte) float64 { return float64(math.Float32frombits(n.Uint32(b))) }
	case "Float64":
		return func(b []byte) float64 { return math.Float64frombits(n.Uint64(b)) }
	}
	return func(b []byte) float64 { return float64(b[0]) }
}
