package practice

import (
	"image"
	"image/color"
	"image/draw"

	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"

	"groundsheet/tiles"
)

// drawing is the version of the drawing: part of every ETag. Raise it when the
// pixels change.
const drawing = 1

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
	c := newCanvas(viewOf(t))
	l := newLand()
	c.ground(l)
	if c.zoom >= streetsFrom {
		c.place(l)
	}
	return c.image()
}

// place draws what is not ground: creeks, streets and what stands up.
func (c *canvas) place(l *land) {
	g := l.layout(c.view)
	streets := g.streets(c.view)
	s := &scene{view: c.view, creeks: creeks(c.view)}
	if c.zoom >= housesFrom {
		s.blocks(g)
		if c.zoom >= woodsFrom {
			s.woods(l)
		}
		for _, k := range s.creeks {
			s.creekside(k)
		}
		for _, r := range streets {
			s.avenue(r)
		}
	}
	s.paint(c, func() {
		for _, k := range s.creeks {
			c.water(k)
		}
		c.roads(streets)
	})
}

func (c *canvas) image() *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, side, side))
	for i, p := range c.pix {
		o := out.Pix[i*4 : i*4+4 : i*4+4]
		o[0], o[1], o[2], o[3] = byteOf(p.r), byteOf(p.g), byteOf(p.b), 255
	}
	return out
}

func byteOf(v float32) uint8 { return uint8(min(max(v+0.5, 0), 255)) }

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
