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

// read fills a picture from what gdalwarp wrote: the bands of each pixel in turn
// (BIP), in the byte order of this computer, and how much of it is there last.
func (l layout) read(r io.Reader, img *image.NRGBA, scale []float64) error {
	bands := l.bands + 1
	if l.sourceAlpha() {
		bands = l.bands
	}
	length := valueBytes[l.kind]
	row := make([]byte, img.Rect.Dx()*bands*length)
	show := l.shower(scale)
	for y := range img.Rect.Dy() {
		if _, err := io.ReadFull(r, row); err != nil {
			return err
		}
		to := img.Pix[y*img.Stride : y*img.Stride+4*img.Rect.Dx()]
		for x := range img.Rect.Dx() {
			show(to[4*x:4*x+4:4*x+4], row[x*bands*length:(x+1)*bands*length])
		}
	}
	return nil
}

// shower gives what turns the values of one pixel into red, green, blue and how
// much of it is there.
func (l layout) shower(scale []float64) func(to, from []byte) {
	length := valueBytes[l.kind]
	value := valueOf(l.kind)
	last := l.bands * length
	if l.sourceAlpha() {
		last -= length
	}
	whole := fullAlpha(l.kind)
	presence := func(from []byte) uint8 {
		if length == 1 {
			return from[last]
		}
		return clamp(value(from[last:]) / whole * 255)
	}
	if l.hasMap {
		return func(to, from []byte) {
			copy(to, l.colors[from[0]][:])
			if from[last] == 0 {
				to[3] = 0
			}
		}
	}
	own := -1 // transparency in a band that gdalwarp takes for a color
	if l.alpha >= 0 && !l.sourceAlpha() {
		own = l.alpha * length
	}
	var tone [3]func([]byte) uint8
	for i, band := range [3]int{l.red, l.green, l.blue} {
		tone[i] = toner(l.kind, band*length, pairOf(scale, i))
	}
	return func(to, from []byte) {
		if to[3] = presence(from); to[3] == 0 {
			return
		}
		to[0], to[1], to[2] = tone[0](from), tone[1](from), tone[2](from)
		if own >= 0 {
			to[3] = min(to[3], clamp(value(from[own:])/whole*255))
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

// toner gives what turns a value into a tone: the same as gdal_translate -scale
// makes of it.
func toner(kind string, at int, pair []float64) func([]byte) uint8 {
	if pair == nil && kind == "Byte" {
		return func(from []byte) uint8 { return from[at] }
	}
	if pair == nil {
		pair = []float64{0, 255}
	}
	low, span := pair[0], pair[1]-pair[0]
	value := valueOf(kind)
	if valueBytes[kind] > 2 {
		return func(from []byte) uint8 { return clamp((value(from[at:]) - low) / span * 255) }
	}
	table := make([]uint8, 1<<16) // one look-up instead of a division for each pixel
	for i := range table {
		v := float64(i)
		if kind == "Int16" {
			v = float64(int16(i))
		} else if kind == "Int8" {
			v = float64(int8(i))
		}
		table[i] = clamp((v - low) / span * 255)
	}
	if valueBytes[kind] == 1 {
		return func(from []byte) uint8 { return table[from[at]] }
	}
	return func(from []byte) uint8 { return table[binary.NativeEndian.Uint16(from[at:])] }
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
