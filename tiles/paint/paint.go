// Package paint paints areas, lines and letters on an image, in pixels from its
// upper left corner, with smooth edges. The same shapes always come out the same,
// and what is painted in parts, moved by whole pixels, joins.
package paint

import (
	"image"
	"image/color"
	"math"

	"github.com/paulmach/orb"
	"golang.org/x/image/vector"
)

// Canvas gathers shapes and paints them together in one color, so that where they
// overlap nothing is painted twice.
type Canvas struct {
	Img *image.RGBA

	r    *vector.Rasterizer
	some bool
}

// On is a canvas for an image whose upper left corner is at 0, 0.
func On(img *image.RGBA) *Canvas {
	return &Canvas{Img: img, r: vector.NewRasterizer(img.Rect.Dx(), img.Rect.Dy())}
}

// Flush paints what was gathered.
func (c *Canvas) Flush(col color.RGBA) {
	if !c.some {
		return
	}
	c.r.Draw(c.Img, c.Img.Rect, image.NewUniform(col), image.Point{})
	c.reset()
}

// mask gives what was gathered as how much of each pixel is covered.
func (c *Canvas) mask() *image.Alpha {
	m := image.NewAlpha(c.Img.Rect)
	c.r.Draw(m, m.Rect, image.Opaque, image.Point{})
	c.reset()
	return m
}

func (c *Canvas) reset() {
	c.r.Reset(c.Img.Rect.Dx(), c.Img.Rect.Dy())
	c.some = false
}

// beyond is how far off the image a corner may lie before it is moved nearer: the
// rasterizer computes in floats of 32 bits. Clip long lines before.
const beyond = 20_000

func near(v float64) float32 { return float32(min(max(v, -beyond), beyond)) }

// Ring adds the inside of a ring. A ring that runs the other way round is a hole in
// what it overlaps.
func (c *Canvas) Ring(ring []orb.Point) {
	if len(ring) < 3 {
		return
	}
	c.some = true
	c.r.MoveTo(near(ring[0][0]), near(ring[0][1]))
	for _, p := range ring[1:] {
		c.r.LineTo(near(p[0]), near(p[1]))
	}
	c.r.ClosePath()
}

// Line adds a line with a width and round corners and ends.
func (c *Canvas) Line(line []orb.Point, width float64) {
	for i := 1; i < len(line); i++ {
		c.segment(line[i-1], line[i], width/2)
	}
	if width <= 2 || len(line) < 2 {
		return
	}
	for _, p := range line {
		c.Dot(p, width/2)
	}
}

// segment adds one straight piece. All pieces run the same way round, so that they
// add to each other.
func (c *Canvas) segment(a, b orb.Point, half float64) {
	long := math.Hypot(b[0]-a[0], b[1]-a[1])
	if long == 0 {
		return
	}
	dx, dy := (b[0]-a[0])/long*half, (b[1]-a[1])/long*half
	c.Ring([]orb.Point{{a[0] - dy, a[1] + dx}, {b[0] - dy, b[1] + dx}, {b[0] + dy, b[1] - dx}, {a[0] + dy, a[1] - dx}})
}

// Dot adds a disc.
func (c *Canvas) Dot(at orb.Point, radius float64) {
	n := min(max(int(radius*4), 8), 64)
	ring := make([]orb.Point, n)
	for i := range ring {
		sin, cos := math.Sincos(-2 * math.Pi * float64(i) / float64(n))
		ring[i] = orb.Point{at[0] + radius*cos, at[1] + radius*sin}
	}
	c.Ring(ring)
}

// Dashes cuts a line into dashes and gaps of these lengths, counted from an offset
// on the line.
func Dashes(line []orb.Point, from, dash, gap float64) (all [][]orb.Point) {
	var one []orb.Point
	at := math.Mod(from, dash+gap)
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		long, done := math.Hypot(b[0]-a[0], b[1]-a[1]), 0.0
		for done < long {
			left := dash - at
			if at >= dash {
				left = dash + gap - at
			}
			step := min(left, long-done)
			p, q := along(a, b, done/long), along(a, b, (done+step)/long)
			if at < dash {
				if one == nil {
					one = append(one, p)
				}
				one = append(one, q)
			}
			done += step
			if at += step; step == left {
				if one != nil {
					all, one = append(all, one), nil
				}
				if at >= dash+gap-1e-9 {
					at = 0
				}
			}
		}
	}
	if one != nil {
		all = append(all, one)
	}
	return all
}

func along(a, b orb.Point, t float64) orb.Point {
	return orb.Point{a[0] + (b[0]-a[0])*t, a[1] + (b[1]-a[1])*t}
}
