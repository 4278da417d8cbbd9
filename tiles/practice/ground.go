package practice

import "math"

// Colours of the open ground.
var (
	lawn  = rgb{103, 112, 80}
	dry   = rgb{140, 131, 99}
	hedge = rgb{78, 86, 60}
)

// crop is what grows on a field.
type crop struct {
	colour rgb
	rows   float32 // how strongly its rows show
	wood   bool
}

// crops has one entry for each chance in eight; a function, so that nothing
// global can be changed.
func crops() [8]crop {
	green, pasture := crop{colour: rgb{93, 108, 70}, rows: 0.07}, crop{colour: rgb{116, 119, 83}, rows: 0.01}
	stubble, soil := crop{colour: rgb{157, 143, 107}, rows: 0.05}, crop{colour: rgb{131, 112, 90}, rows: 0.08}
	wood := crop{colour: rgb{68, 79, 54}, wood: true}
	return [8]crop{green, green, pasture, pasture, stubble, soil, pasture, wood}
}

func meanCrop() (m rgb) {
	for _, c := range crops() {
		m = rgb{m.r + c.colour.r/8, m.g + c.colour.g/8, m.b + c.colour.b/8}
	}
	return m
}

// parcelSide is the side of a group of fields, in blocks.
const parcelSide = 4

// parcel is a group of fields: one, two or four of them.
type parcel struct {
	splitU, splitV float64 // where it is divided, 0 to 1; 1 is not at all
	field          [4]crop
	turned         [4]bool // its rows run north and south
	tone           [4]float32
}

func parcelAt(col, row int) parcel {
	d := roll(seedParcel, col, row, 1<<blockZoom/parcelSide)
	p := parcel{splitU: 1, splitV: 1}
	if d.next() < 0.6 {
		p.splitU = d.between(0.3, 0.7)
	}
	if d.next() < 0.6 {
		p.splitV = d.between(0.3, 0.7)
	}
	kinds := crops()
	for i := range p.field {
		p.field[i] = kinds[int(d.next()*8)]
		p.turned[i] = d.next() < 0.5
		p.tone[i] = float32(d.between(-0.07, 0.07))
	}
	return p
}

// part is which of the four fields a place in the parcel lies in, and how far
// the next border is, as a share of the parcel.
func (p *parcel) part(u, v float64) (i int, border float64) {
	border = min(u, 1-u, v, 1-v)
	if u > p.splitU {
		i = 1
	}
	if v > p.splitV {
		i += 2
	}
	return i, min(border, math.Abs(u-p.splitU), math.Abs(v-p.splitV))
}

// fields finds the parcel of one pixel after the other, cheaply.
type fields struct {
	col, row int
	parcel
}

func (f *fields) find(u, v float64) (inU, inV float64) {
	u, v = u/parcelSide, v/parcelSide
	col, row := int(math.Floor(u)), int(math.Floor(v))
	if col != f.col || row != f.row || f.splitU == 0 {
		f.col, f.row, f.parcel = col, row, parcelAt(col, row)
	}
	return u - float64(col), v - float64(row)
}

// ground paints everything that grows or lies bare.
func (c *canvas) ground(l *land) {
	grid := l.slow(c.view)
	fast(c)
	g := &soil{canvas: c, blend: newBlend(), mean: meanCrop()}
	g.shown = float32(1 - smooth(60, 200, c.px))
	var row [coarse]sample
	for y := range side {
		rowOf(grid, y, &row)
		for cell := range coarse - 1 {
			s, change := row[cell].steps(row[cell+1])
			for x := cell * 8; x < cell*8+8; x++ {
				g.pixel(x, y, &s)
				s = s.add(change)
			}
		}
	}
}

// soil paints the ground pixel by pixel.
type soil struct {
	*canvas
	fields fields
	blend  *blend
	mean   rgb
	shown  float32 // how far fields and blocks stand out; they fade before they alias
}

func (g *soil) pixel(x, y int, s *sample) {
	i := y*side + x
	grain := g.grain[i] + float32(s.near)
	g.grain[i] = grain
	col := lawn.toward(dry, float32(0.42+s.hue))
	if s.town < 1 {
		field := g.mean
		if g.shown > 0 {
			field = field.toward(g.field(&g.fields, g.blockX(x)-s.u, g.blockY(y)-s.v), g.shown)
		}
		col = col.toward(field, float32(0.85*(1-s.town)))
	}
	col = col.times(1 + float32(s.far) + grain)
	if g.zoom < housesFrom && s.town > 0 {
		t := g.blend.tint(g.blockX(x)-s.u, g.blockY(y)-s.v, g.shown, g.zoom < streetsFrom)
		col = col.toward(col.tint(t).times(1+0.9*grain), float32(s.town))
	}
	g.pix[i] = col
}

// field is the colour of a place in the country.
func (c *canvas) field(f *fields, u, v float64) rgb {
	inU, inV := f.find(u, v)
	part, border := f.part(inU, inV)
	kind := f.field[part]
	col := kind.colour.times(1 + f.tone[part])
	const spacing = 2.4 // metres between crop rows
	if kind.rows > 0 && c.px < spacing/3 {
		across := inV
		if f.turned[part] {
			across = inU
		}
		t := across * parcelSide * block / spacing
		wave := 4*math.Abs(t-math.Floor(t)-0.5) - 1
		col = col.times(1 + kind.rows*float32(wave*smooth(spacing/3, spacing/6, c.px)))
	}
	if !kind.wood && c.px < 10 {
		col = col.toward(hedge, float32(0.8*strip(border*parcelSide*block, 1.6, c.px)))
	}
	return col
}
