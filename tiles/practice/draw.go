package practice

import (
	"image"
	"image/color"
	"image/draw"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"

	"groundsheet/tiles"
)

// version is the version of the drawing: part of every ETag. Raise it when the
// pixels change.
const version = 2

// From these zooms on things are drawn one by one.
const (
	streetsFrom = 12
	housesFrom  = 14
)

// Draw paints one tile of the invented place, 256×256 pixels. The same tile
// always comes out the same, and things keep their place from zoom to zoom. It
// may be called from many goroutines. A tile that does not exist is drawn as
// if the world went on.
func Draw(t tiles.ID) *image.RGBA {
	out := paint(t)
	label(out, t)
	return out
}

// paint is the picture without its label.
func paint(t tiles.ID) *image.RGBA {
	s := newScene(t)
	out := image.NewRGBA(image.Rect(0, 0, side, side))
	var samples [coarse]sample
	for i := range side * side {
		if i%side == 0 {
			row(s.grid, i/side, &samples)
		}
		c := s.color(s.at(&samples, i%side, i/side))
		o := out.Pix[i*4 : i*4+4 : i*4+4]
		o[0], o[1], o[2], o[3] = byteOf(c.r), byteOf(c.g), byteOf(c.b), 255
	}
	return out
}

func byteOf(v float64) uint8 { return uint8(min(max(v+0.5, 0), 255)) }

// scene is what of the place a tile may show. Each pixel is a function of its
// place on the straight grid, so tiles join.
type scene struct {
	*land
	grid       []sample
	west, top  int // first column and row of meshes
	cols, rows int
	meshes     []mesh // from zoom streetsFrom on
	trees      []tree // from zoom housesFrom on; treeCells² a mesh
}

func newScene(t tiles.ID) *scene {
	l := landOf(t)
	s := &scene{land: l, grid: l.samples()}
	if s.zoom < streetsFrom {
		return s
	}
	first, last := s.grid[0], s.grid[0]
	for _, g := range s.grid {
		first.u, first.v = min(first.u, g.u), min(first.v, g.v)
		last.u, last.v = max(last.u, g.u), max(last.v, g.v)
	}
	s.west, s.top = int(math.Floor(first.u))-1, int(math.Floor(first.v))-1
	s.cols, s.rows = int(math.Floor(last.u))+2-s.west, int(math.Floor(last.v))+2-s.top
	for i := range s.cols * s.rows {
		s.meshes = append(s.meshes, l.mesh(s.west+i%s.cols, s.top+i/s.cols))
	}
	if s.zoom >= housesFrom {
		s.plant()
	}
	return s
}

func (s *scene) plant() {
	n := s.cols * treeCells
	s.trees = make([]tree, n*s.rows*treeCells)
	for i := range s.trees {
		col, row := i%n, i/n
		m := &s.meshes[row/treeCells*s.cols+col/treeCells]
		s.trees[i] = m.treeIn(s.west*treeCells+col, s.top*treeCells+row)
	}
}

// color is the color of a pixel.
func (s *scene) color(g sample) rgb {
	p := point{g.u * block, g.v * block}
	col := lawn.toward(dry, 0.42-4*g.far)
	if s.zoom < streetsFrom {
		const roads = 0.05 // of the country
		col = col.toward(field(p, s.px), 0.85*(1-g.town)).times(1+g.far+g.grain).toward(asphalt, roads*(1-g.town))
		return col.toward(col.tint(townTint), g.town)
	}
	m := &s.meshes[(int(math.Floor(g.v))-s.top)*s.cols+int(math.Floor(g.u))-s.west]
	if !m.town {
		col = col.toward(field(p, s.px), 0.85)
	}
	col = col.times(1 + g.far + g.grain)
	if s.zoom < housesFrom {
		if m.town {
			col = col.tint(useTint[m.use])
		}
		return m.pavement(m.water(col, p, s.px, g.grain), p, s.px, g.grain)
	}
	return s.details(m, col, p, g)
}

// details paints what is drawn one by one: shadows lie below all roofs, and
// roofs below all crowns.
func (s *scene) details(m *mesh, col rgb, p point, g sample) rgb {
	l := m.lotAt(p)
	if l == nil {
		l = &lot{}
	}
	for i := range l.flat {
		col = l.flat[i].over(col, p, s.px, g.grain)
	}
	col = m.pavement(m.water(col, p, s.px, g.grain), p, s.px, g.grain)
	near := s.treesNear(g)
	shade := 0.0
	for i := range l.standing {
		shade = max(shade, l.standing[i].shade(p, s.px))
	}
	for _, t := range near {
		shade = max(shade, t.shade(p, s.px))
	}
	col = rgb{col.r * (1 - 0.5*shade), col.g * (1 - 0.47*shade), col.b * (1 - 0.41*shade)}
	for i := range l.standing {
		col = l.standing[i].over(col, p, s.px, g.grain)
	}
	for _, t := range near {
		col = t.over(col, p, s.px, g.grain)
	}
	return col
}

// treesNear gives the trees that may reach a pixel.
func (s *scene) treesNear(g sample) (near [9]*tree) {
	n := s.cols * treeCells
	col, row := int((g.u-float64(s.west))*treeCells), int((g.v-float64(s.top))*treeCells)
	for i := range near {
		near[i] = &s.trees[(row+i/3-1)*n+col+i%3-1]
	}
	return near
}

// Where things are too small to be drawn, their mean color over that of the bare
// ground stands in for them, measured: that of blocks, and of towns with streets.
var (
	useTint = [4]rgb{homes: {0.975, 0.955, 1.005}, trade: {1.095, 1.05, 1.375}, park: {0.96, 0.96, 0.975},
		vacant: {1, 1, 1}}
	townTint = rgb{1, 0.98, 1.1}
)

func (c rgb) tint(o rgb) rgb { return rgb{c.r * o.r, c.g * o.g, c.b * o.b} }

// label prints which tile this is and that it is not real imagery.
func label(m *image.RGBA, t tiles.ID) {
	face := basicfont.Face7x13
	text := t.String() + " practice"
	plate := image.Rect(3, 3, 3+len(text)*face.Advance+6, 3+face.Height+3)
	draw.Draw(m, plate, image.NewUniform(color.RGBA{A: 90}), image.Point{}, draw.Over)
	pen := font.Drawer{
		Dst: m, Src: image.NewUniform(color.RGBA{220, 220, 216, 230}), Face: face,
		Dot: fixed.P(6, 4+face.Ascent),
	}
	pen.DrawString(text)
}
