// Package picture draws a plan: the dig area, its margin, what is recorded and
// the tiles of one zoom over the imagery that is held, so that a person sees
// what will be packed.
package picture

import (
	"cmp"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"

	"github.com/paulmach/orb"

	"groundsheet/pack/plan"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
)

// Sizes in pixels.
const (
	longSide  = 1400 // of the drawing
	shortest  = 360
	border    = 24
	titleRoom = 44
	finest    = 5 // tiles smaller than this are drawn without their borders
)

var (
	paper      = color.RGBA{0xff, 0xff, 0xff, 0xff}
	ink        = color.RGBA{0x1c, 0x20, 0x26, 0xff}
	tileFill   = color.RGBA{0xdd, 0xe6, 0xee, 0xff}
	tileEdge   = color.RGBA{0x9a, 0xab, 0xbb, 0xff}
	marginEdge = color.RGBA{0x6a, 0x70, 0x78, 0xff}
	areaFill   = color.RGBA{0xb9, 0xb4, 0xa6, 0xff}
)

// Write draws one zoom of a plan as a PNG, over what is held of its imagery;
// held may be nil. The zoom has to be one of the plan's, else the error lists
// them; other errors are those of the store and of the writer.
func Write(ctx context.Context, w io.Writer, p plan.Plan, zoom int, held Held) (Imagery, error) {
	for i, c := range p.Covers {
		if c.Zoom() == zoom {
			img, of, err := paint(ctx, p, i, held)
			if err != nil {
				return of, err
			}
			return of, png.Encode(w, img)
		}
	}
	return Imagery{}, fmt.Errorf("picture of zoom %d: the plan has zooms %d to %d", zoom, p.Base.Zooms.Min, p.Base.Zooms.Max)
}

// sheet is a drawing with its place in the world square.
type sheet struct {
	img    *image.RGBA
	x0, y0 float64 // world fraction of the upper left corner
	scale  float64 // pixels a world

	crosses bool // the antimeridian runs through it
}

func paint(ctx context.Context, p plan.Plan, i int, held Held) (*image.RGBA, Imagery, error) {
	s := newSheet(p.Covers[i])
	s.tiles(p.Covers[i], true)
	dig := p.Ground.Area
	s.outline(dig, areaFill, areaFill, 0)
	of, err := s.imagery(ctx, p, i, held)
	if err != nil {
		return nil, of, err
	}
	s.tiles(p.Covers[i], false)
	edges := []orb.MultiPolygon{dig}
	if p.Job.Margin > 0 {
		edges = append(edges, p.Ground.Margin)
	}
	inks := []color.RGBA{ink, marginEdge}
	if of.Drawn() { // dark lines are lost on dark ground
		for _, edge := range edges {
			s.outline(edge, color.RGBA{}, paper, 6)
		}
	}
	for i, edge := range edges {
		s.outline(edge, color.RGBA{}, inks[i], 2)
	}
	s.records(p)
	s.title(p, i, of)
	return s.img, of, nil
}

// newSheet makes an empty drawing of a cover's frame.
func newSheet(c tiles.Cover) *sheet {
	s, wide, high := frame(c)
	w, h := max(int(wide*s.scale), shortest)+2*border, int(high*s.scale)+2*border+titleRoom
	s.img = image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(s.img, s.img.Rect, image.NewUniform(paper), image.Point{}, draw.Src)
	return s
}

// frame gives the place and scale of a cover's drawing, without an image, and
// its sides in the world square.
func frame(c tiles.Cover) (s *sheet, wide, high float64) {
	b, _ := c.Bounds()
	x0, y0 := tiles.Project(b.West, b.North)
	x1, y1 := tiles.Project(b.East, b.South)
	crosses := false
	if x1-x0 > 0.5 { // perhaps it only goes over the antimeridian
		x0, x1, crosses = overTheSeam(c, x0, x1)
	}
	wide, high = max(x1-x0, 1e-9), max(y1-y0, 1e-9)
	return &sheet{x0: x0, y0: y0, scale: (longSide - 2*border) / max(wide, high), crosses: crosses}, wide, high
}

// overTheSeam gives the edges of a cover with its western half moved one world
// east, when that makes it narrower.
func overTheSeam(c tiles.Cover, x0, x1 float64) (west, east float64, crosses bool) {
	side := 1 / float64(uint64(1)<<c.Zoom())
	west, east = 2, 0
	for _, run := range c.Spans() {
		left, right := float64(run.First)*side, float64(run.Last+1)*side
		if right <= 0.25 {
			left, right = left+1, right+1
		}
		west, east = min(west, left), max(east, right)
	}
	if east-west >= x1-x0 {
		return x0, x1, false
	}
	return west, east, true
}

// Deepest is the deepest zoom of a plan whose tiles can be told apart in a
// picture.
func Deepest(p plan.Plan) int {
	for i := len(p.Covers) - 1; i > 0; i-- {
		if s, _, _ := frame(p.Covers[i]); s.side(p.Covers[i].Zoom()) >= finest {
			return p.Covers[i].Zoom()
		}
	}
	return p.Covers[0].Zoom()
}

// at gives the pixel of a place in the world square.
func (s *sheet) at(x, y float64) (float64, float64) {
	if s.x0 > 0.5 && x < 0.25 && s.crosses {
		x++ // beyond the antimeridian
	}
	return border + (x-s.x0)*s.scale, border + titleRoom + (y-s.y0)*s.scale
}

func (s *sheet) place(p orb.Point) (float64, float64) { return s.at(tiles.Project(p[0], p[1])) }

// tiles fills the runs of a cover, or draws their borders where they can be
// seen.
func (s *sheet) tiles(c tiles.Cover, fill bool) {
	side := 1 / float64(uint64(1)<<c.Zoom())
	if !fill && s.side(c.Zoom()) < finest {
		return
	}
	for _, run := range c.Spans() {
		left, top := s.at(float64(run.First)*side, float64(run.Row)*side)
		right, bottom := s.at(float64(run.Last)*side, float64(run.Row+1)*side)
		right += side * s.scale
		if fill {
			s.box(left, top, right, bottom, tileFill)
			continue
		}
		s.box(left, top, right, top+1, tileEdge)
		s.box(left, bottom, right, bottom+1, tileEdge)
		for n := run.First; n <= run.Last+1; n++ {
			x := left + float64(n-run.First)*side*s.scale
			s.box(x, top, x+1, bottom, tileEdge)
		}
	}
}

func (s *sheet) box(left, top, right, bottom float64, c color.Color) {
	draw.Draw(s.img, box(left, top, right, bottom), image.NewUniform(c), image.Point{}, draw.Src)
}

// outline draws polygons; a fill without opacity leaves the inside as it is.
func (s *sheet) outline(shape orb.MultiPolygon, fill, edge color.RGBA, width float64) {
	for _, polygon := range shape {
		if fill.A > 0 {
			s.fill(polygon, fill)
		}
		for _, ring := range polygon {
			s.line(s.path(orb.LineString(ring)), width, edge)
		}
	}
}

func (s *sheet) path(l orb.LineString) []float64 {
	out := make([]float64, 0, 2*len(l))
	for _, p := range l {
		x, y := s.place(p)
		out = append(out, x, y)
	}
	return out
}

// title says what is drawn, in words, and whose imagery it is.
func (s *sheet) title(p plan.Plan, i int, of Imagery) {
	s.box(0, 0, float64(s.img.Rect.Dx()), border+titleRoom-8, paper) // no line runs through the words
	c := p.Covers[i]
	_, lat := p.Middle()
	side := measure.Distance(tiles.GroundResolution(lat, c.Zoom(), p.Source.TileSize) * float64(p.Source.TileSize))
	s.text(border, border, fmt.Sprintf("%s: zoom %d of %s", p.Job.Name, c.Zoom(), p.Source.Name))
	dig := "filled"
	if of.Drawn() {
		dig = "outlined, filled where no imagery is held"
		s.box(0, float64(s.img.Rect.Dy()-border+4), float64(s.img.Rect.Dx()), float64(s.img.Rect.Dy()), paper)
		s.text(border, s.img.Rect.Dy()-7, "imagery: "+cmp.Or(p.Source.Attribution, p.Source.Name+", attribution not stated"))
	}
	s.text(border, border+18, fmt.Sprintf("%d tiles of %s a side; dig area %s, margin %s outlined; north is up",
		c.Count(), side.In(p.Job.Units), dig, p.Job.Margin.In(p.Job.Units)))
}
