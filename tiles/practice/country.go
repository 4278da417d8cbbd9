package practice

import "math"

// Colors of the open ground.
var (
	lawn  = rgb{103, 112, 80}
	dry   = rgb{140, 131, 99}
	hedge = rgb{78, 86, 60}
)

// Colors of what grows on fields. The mean is that of crops.
var (
	green    = rgb{93, 108, 70}
	pasture  = rgb{116, 119, 83}
	wood     = rgb{68, 79, 54}
	crops    = [8]rgb{green, green, pasture, pasture, {157, 143, 107}, {131, 112, 90}, pasture, wood}
	meanCrop = rgb{109.6, 112.1, 80}
)

// parcelSide is the side of a group of four fields, in blocks.
const parcelSide = 4

// fieldAt is the field at a place: its crop, its own dice, and how far the
// next border is, in meters.
func fieldAt(p point) (crop rgb, d dice, border float64) {
	u, v := p.x/block/parcelSide, p.y/block/parcelSide
	col, row := math.Floor(u), math.Floor(v)
	d = roll(seedParcel, int(col), int(row), 1<<blockZoom/parcelSide)
	u, v = u-col, v-row
	splitU, splitV := d.between(0.3, 0.7), d.between(0.3, 0.7)
	border = min(u, 1-u, v, 1-v, math.Abs(u-splitU), math.Abs(v-splitV))
	if u > splitU {
		d += 1
	}
	if v > splitV {
		d += 2
	}
	return crops[int(d.next()*8)], d, border * parcelSide * block
}

// field is the color of a place in the country.
func field(p point, px float64) rgb {
	if px > 240 {
		return meanCrop
	}
	crop, d, border := fieldAt(p)
	col := crop.times(1 + d.between(-0.07, 0.07))
	if crop != wood {
		col = col.toward(hedge, 0.8*strip(border, 1.6, px))
	}
	return col.toward(meanCrop, smooth(60, 240, px))
}

// creekBand is the width of the bands, in blocks, of which most hold one creek
// that runs from north to south.
const creekBand = 8

// creekMeander is the wave lengths and swings of a creek, in blocks. Their sum
// keeps it within its band.
var creekMeander = [4][2]float64{{23, 1.4}, {7.1, 0.8}, {2.3, 0.25}, {0.83, 0.05}}

// creekAt is the distance to the middle of the nearest creek, in meters, and
// half the width of its water. It is exact near the creek only.
func creekAt(p point) (distance, half float64) {
	u, v := p.x/block, p.y/block
	col := math.Floor(u / creekBand)
	d := roll(seedCreek, int(col), 0, 1<<blockZoom/creekBand)
	if d.next() > 0.7 {
		return math.Inf(1), 0
	}
	off := u - (col+d.between(0.4, 0.6))*creekBand
	if math.Abs(off) > 3 {
		return math.Inf(1), 0
	}
	slope := 0.0
	for _, m := range creekMeander {
		k := 2 * math.Pi / m[0]
		sin, cos := math.Sincos(v*k + d.between(0, 2*math.Pi))
		off -= m[1] * sin
		slope += m[1] * k * cos
	}
	return math.Abs(off) * block / hypot(1, slope), 3.4 + 0.8*math.Sin(v*9.7) + 0.5*math.Sin(v*31)
}

// water paints a creek over a color: a rough green strip, bare banks, water.
func (m *mesh) water(col rgb, p point, px, grain float64) rgb {
	if !m.creek {
		return col
	}
	d, half := creekAt(p)
	if d > 20+px {
		return col
	}
	rough := 3 * grain
	col = col.toward(rgb{77, 89, 59}.times(1+1.2*grain), 0.8*strip(d, 13+4*rough, px+5))
	col = col.toward(rgb{139, 127, 104}.times(1+grain), 0.85*strip(d-0.3, half+1.5+2*rough, px+0.7))
	water := rgb{101, 105, 92}.toward(rgb{66, 78, 74}, smooth(half, 0, d)).times(1 + 0.3*grain)
	return col.toward(water, strip(d, half+rough, px+0.3))
}
