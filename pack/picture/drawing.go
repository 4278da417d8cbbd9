package picture

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"strconv"

	"github.com/paulmach/orb"
	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"

	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/paint"
)

// Sizes in pixels.
const (
	longSide    = 1400 // of the drawing
	minSide     = 360
	border      = 24
	titleRoom   = 44
	minBordered = 5 // smaller tiles are drawn without their borders
)

// drawing is an image with its place in the world square of Web Mercator.
type drawing struct {
	img     *image.RGBA
	x0, y0  float64 // world fraction of the upper left corner
	scale   float64 // pixels a world
	crosses bool    // the antimeridian runs through it
}

// newDrawing makes an empty drawing of a cover.
func newDrawing(c tiles.Cover) *drawing {
	d, wide, high := frame(c)
	w, h := max(int(wide*d.scale), minSide)+2*border, int(high*d.scale)+2*border+titleRoom
	d.img = image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(d.img, d.img.Rect, image.NewUniform(paper), image.Point{}, draw.Src)
	return d
}

// frame gives the place and scale of a cover's drawing, without an image, and
// its sides in the world square.
func frame(c tiles.Cover) (d *drawing, wide, high float64) {
	b, _ := c.Bounds()
	x0, y0 := tiles.Project(b.West, b.North)
	x1, y1 := tiles.Project(b.East, b.South)
	crosses := false
	if x1-x0 > 0.5 {
		x0, x1, crosses = acrossAntimeridian(c, x0, x1)
	}
	wide, high = max(x1-x0, 1e-9), max(y1-y0, 1e-9)
	return &drawing{x0: x0, y0: y0, scale: (longSide - 2*border) / max(wide, high), crosses: crosses}, wide, high
}

// acrossAntimeridian gives the edges of a cover with its western half moved one
// world east, where that makes it narrower.
func acrossAntimeridian(c tiles.Cover, x0, x1 float64) (west, east float64, crosses bool) {
	side := worldSide(c.Zoom())
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

// worldSide is the side of a tile in parts of the world.
func worldSide(zoom int) float64 { return 1 / float64(uint64(1)<<zoom) }

// side is the side of a tile in pixels of the drawing.
func (d *drawing) side(zoom int) float64 { return d.scale / float64(uint64(1)<<zoom) }

// at gives the pixel of a place in the world square.
func (d *drawing) at(x, y float64) (float64, float64) {
	if d.x0 > 0.5 && x < 0.25 && d.crosses {
		x++ // beyond the antimeridian
	}
	return border + (x-d.x0)*d.scale, border + titleRoom + (y-d.y0)*d.scale
}

func (d *drawing) place(p orb.Point) (float64, float64) { return d.at(tiles.Project(p[0], p[1])) }

// corner gives the pixel of the upper left corner of a tile.
func (d *drawing) corner(zoom int, column, row uint32) (float64, float64) {
	side := worldSide(zoom)
	return d.at(float64(column)*side, float64(row)*side)
}

// fillTiles fills the runs of a cover.
func (d *drawing) fillTiles(c tiles.Cover) {
	side := d.side(c.Zoom())
	for _, run := range c.Spans() {
		left, top := d.corner(c.Zoom(), run.First, run.Row)
		right, bottom := d.corner(c.Zoom(), run.Last, run.Row+1)
		d.box(left, top, right+side, bottom, tileFill)
	}
}

// tileBorders draws the borders of tiles where they can be told apart.
func (d *drawing) tileBorders(c tiles.Cover) {
	side := d.side(c.Zoom())
	if side < minBordered {
		return
	}
	for _, run := range c.Spans() {
		left, top := d.corner(c.Zoom(), run.First, run.Row)
		right, bottom := d.corner(c.Zoom(), run.Last, run.Row+1)
		right += side
		d.box(left, top, right, top+1, tileEdge)
		d.box(left, bottom, right, bottom+1, tileEdge)
		for n := run.First; n <= run.Last+1; n++ {
			x := left + float64(n-run.First)*side
			d.box(x, top, x+1, bottom, tileEdge)
		}
	}
}

func (d *drawing) box(left, top, right, bottom float64, c color.Color) {
	draw.Draw(d.img, pixels(left, top, right, bottom), image.NewUniform(c), image.Point{}, draw.Src)
}

// pixels rounds to whole pixels; what is thinner than one is one wide.
func pixels(left, top, right, bottom float64) image.Rectangle {
	r := image.Rect(int(math.Round(left)), int(math.Round(top)), int(math.Round(right)), int(math.Round(bottom)))
	return image.Rectangle{r.Min, image.Pt(max(r.Max.X, r.Min.X+1), max(r.Max.Y, r.Min.Y+1))}
}

// outline draws polygons; a fill without opacity leaves the inside as it is.
func (d *drawing) outline(shape orb.MultiPolygon, fill, edge color.RGBA, width float64) {
	for _, polygon := range shape {
		if fill.A > 0 {
			d.fill(polygon, fill)
		}
		for _, ring := range polygon {
			d.line(orb.LineString(ring), width, edge)
		}
	}
}

// fill paints a polygon, holes left out by the direction of their rings.
func (d *drawing) fill(polygon orb.Polygon, c color.RGBA) {
	on := paint.On(d.img)
	for _, ring := range polygon {
		on.Ring(d.pixels(ring))
	}
	on.Flush(c)
}

// line draws a line with a width in pixels.
func (d *drawing) line(l orb.LineString, width float64, c color.RGBA) {
	on := paint.On(d.img)
	on.Line(d.pixels(l), width)
	on.Flush(c)
}

func (d *drawing) pixels(places []orb.Point) []orb.Point {
	out := make([]orb.Point, len(places))
	for i, p := range places {
		out[i][0], out[i][1] = d.place(p)
	}
	return out
}

func (d *drawing) text(x, y int, words string) {
	t := font.Drawer{Dst: d.img, Src: image.NewUniform(ink), Face: basicfont.Face7x13, Dot: fixed.P(x, y)}
	t.DrawString(words)
}

// record draws what is recorded.
func (d *drawing) record(g orb.Geometry, ink, casing color.RGBA) {
	stroke := func(l orb.LineString) {
		d.line(l, 6, casing)
		d.line(l, 3, ink)
	}
	for part := range geojson.Parts(g) {
		switch g := part.(type) {
		case orb.Point:
			x, y := d.place(g)
			d.box(x-4, y-4, x+4, y+4, casing)
			d.box(x-3, y-3, x+3, y+3, ink)
		case orb.LineString:
			stroke(g)
		case orb.Polygon:
			for _, ring := range g {
				stroke(orb.LineString(ring))
			}
		}
	}
}

// hexColor reads "#RRGGBB"; the table of utilities holds nothing else.
func hexColor(s string) color.RGBA {
	v, err := strconv.ParseUint(s[1:], 16, 32)
	if err != nil {
		return ink
	}
	return color.RGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 0xff}
}
