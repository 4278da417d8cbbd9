package paint

import (
	"image"
	"image/color"
	"math"
	"sync"

	"github.com/paulmach/orb"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// Letter is one letter in its place: the middle of its width, on the line that text
// stands on, turned clockwise by an angle.
type Letter struct {
	Rune  rune
	At    orb.Point
	Angle float64 // radians
	Size  float64 // of the lettering, in pixels
}

// glyph is the outline of a letter, in parts of the size: y downward from the line
// that text stands on.
type glyph struct {
	steps []sfnt.Segment
	wide  float64
}

const glyphSize = 1024 // pixels an em, in which outlines are read

// lettering is the font, and the outlines that were read from it.
type lettering struct {
	font   *sfnt.Font
	mu     sync.Mutex
	buffer sfnt.Buffer
	glyphs map[rune]glyph
}

var loaded = sync.OnceValue(func() *lettering {
	f, err := sfnt.Parse(goregular.TTF)
	if err != nil {
		panic(err) // it is compiled in
	}
	return &lettering{font: f, glyphs: map[rune]glyph{}}
})

func (l *lettering) glyph(r rune) glyph {
	l.mu.Lock()
	defer l.mu.Unlock()
	if g, has := l.glyphs[r]; has {
		return g
	}
	i, _ := l.font.GlyphIndex(&l.buffer, r) // 0, a box, of what the font has not
	var g glyph
	if steps, err := l.font.LoadGlyph(&l.buffer, i, fixed.I(glyphSize), nil); err == nil {
		g.steps = append(g.steps, steps...)
	}
	if wide, err := l.font.GlyphAdvance(&l.buffer, i, fixed.I(glyphSize), font.HintingNone); err == nil {
		g.wide = float64(wide) / 64 / glyphSize
	}
	const most = 5000
	if len(l.glyphs) < most {
		l.glyphs[r] = g
	}
	return g
}

// Width is how wide a letter is in a size.
func Width(r rune, size float64) float64 { return loaded().glyph(r).wide * size }

// TextWidth is how wide a text is in a size.
func TextWidth(text string, size float64) (wide float64) {
	for _, r := range text {
		wide += Width(r, size)
	}
	return wide
}

// Level are the letters of a text whose middle stands at a place.
func Level(text string, middle orb.Point, size float64) (all []Letter) {
	x := middle[0] - TextWidth(text, size)/2
	for _, r := range text {
		wide := Width(r, size)
		all = append(all, Letter{r, orb.Point{x + wide/2, middle[1]}, 0, size})
		x += wide
	}
	return all
}

// Letter adds a letter to what is gathered.
func (c *Canvas) Letter(l Letter) {
	g := loaded().glyph(l.Rune)
	sin, cos := math.Sincos(l.Angle)
	const unit = 1.0 / 64 / glyphSize
	at := func(p fixed.Point26_6) (float32, float32) {
		x, y := (float64(p.X)*unit-g.wide/2)*l.Size, float64(p.Y)*unit*l.Size
		return near(l.At[0] + x*cos - y*sin), near(l.At[1] + x*sin + y*cos)
	}
	for _, s := range g.steps {
		x, y := at(s.Args[0])
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			c.r.ClosePath()
			c.r.MoveTo(x, y)
		case sfnt.SegmentOpLineTo:
			c.r.LineTo(x, y)
		case sfnt.SegmentOpQuadTo:
			x1, y1 := at(s.Args[1])
			c.r.QuadTo(x, y, x1, y1)
		case sfnt.SegmentOpCubeTo:
			x1, y1 := at(s.Args[1])
			x2, y2 := at(s.Args[2])
			c.r.CubeTo(x, y, x1, y1, x2, y2)
		}
		c.some = true
	}
	c.r.ClosePath()
}

// Haloed paints the gathered letters in a color over a halo of another.
func (c *Canvas) Haloed(ink, halo color.RGBA, radius int) {
	if !c.some {
		return
	}
	m := c.mask()
	over(c.Img, widened(m, radius), halo)
	over(c.Img, m, ink)
}

// over paints a color where a mask is.
func over(img *image.RGBA, mask *image.Alpha, col color.RGBA) {
	for i, a := range mask.Pix {
		if a == 0 {
			continue
		}
		o := img.Pix[4*i : 4*i+4 : 4*i+4]
		k := uint32(a) * uint32(col.A) / 255
		for j, v := range [4]uint8{col.R, col.G, col.B, 255} {
			o[j] = uint8((uint32(o[j])*(255-k) + uint32(v)*k + 127) / 255)
		}
	}
}

// widened is a mask grown by a radius all round.
func widened(m *image.Alpha, radius int) *image.Alpha {
	out := image.NewAlpha(m.Rect)
	w, h := m.Rect.Dx(), m.Rect.Dy()
	for y := range h {
		for x := range w {
			a := m.Pix[y*m.Stride+x]
			if a == 0 {
				continue
			}
			for dy := -radius; dy <= radius; dy++ {
				for dx := -radius; dx <= radius; dx++ {
					if dx*dx+dy*dy > radius*radius+1 || x+dx < 0 || x+dx >= w || y+dy < 0 || y+dy >= h {
						continue
					}
					i := (y+dy)*out.Stride + x + dx
					out.Pix[i] = max(out.Pix[i], a)
				}
			}
		}
	}
	return out
}
