package picture

import (
	"context"
	"fmt"
	"image"
	"iter"
	"math"

	"golang.org/x/image/draw"

	"groundsheet/pack/plan"
	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/store"
)

const (
	coarse   = 8  // zooms that a shallower tile is enlarged over at most: then a pixel of it is a tile
	smallest = 16 // pixels that a tile must be wide on the drawing to show anything
)

// Held is what a drawing needs of an office store.
type Held interface {
	// In yields what is held of a cover in tile order, holes too.
	In(ctx context.Context, c tiles.Cover, data bool) iter.Seq2[store.Held, error]
}

// Imagery is what the ground of a drawing was made of.
type Imagery struct {
	Zoom     int   // of its sharpest tiles
	Of       int64 // tiles of that zoom the drawing would need; 0 = they are too small on it to show anything
	Held     int64 // of Of: held with an image, and drawn
	Enlarged int64 // shallower tiles that were drawn below them
}

// Drawn reports whether anything but plain ground was drawn.
func (m Imagery) Drawn() bool { return m.Held+m.Enlarged > 0 }

// imagery puts held tiles onto the ground of a cover, each over the shallower
// ones, so that the nearest held one is seen.
func (s *sheet) imagery(ctx context.Context, p plan.Plan, i int, held Held) (m Imagery, err error) {
	m.Zoom = s.sharpest(p, i)
	if s.side(m.Zoom) < smallest {
		return m, nil
	}
	m.Of = int64(above(p.Covers[i], m.Zoom).Count())
	if held == nil {
		return m, nil
	}
	ground := image.NewRGBA(s.img.Rect)
	for z := max(p.Source.Zooms.Min, m.Zoom-coarse); z <= m.Zoom; z++ {
		n, err := s.zoom(ctx, ground, p, above(p.Covers[i], z), held)
		if err != nil {
			return m, fmt.Errorf("picture: held imagery of zoom %d: %w", z, err)
		}
		if z == m.Zoom {
			m.Held = n
		} else {
			m.Enlarged += n
		}
	}
	if m.Drawn() {
		s.lay(ground, p.Covers[i])
	}
	return m, nil
}

// sharpest is the deepest zoom up to that of a cover whose tiles keep half of
// their pixels on the drawing.
func (s *sheet) sharpest(p plan.Plan, i int) int {
	for k := i; k > 0; k-- {
		if z := p.Covers[k].Zoom(); 2*s.side(z) >= float64(p.Source.TileSize) {
			return z
		}
	}
	return p.Covers[0].Zoom()
}

// side is how many pixels of the drawing a tile of a zoom is wide.
func (s *sheet) side(zoom int) float64 { return s.scale / float64(uint64(1)<<zoom) }

// zoom draws the held tiles of one zoom.
func (s *sheet) zoom(ctx context.Context, ground *image.RGBA, p plan.Plan, c tiles.Cover, held Held) (n int64, err error) {
	side := 1 / float64(uint64(1)<<c.Zoom())
	for r, err := range held.In(ctx, c, true) {
		if err != nil {
			return n, err
		}
		if r.Hole || p.Source.Placeholder(r.Hash) {
			continue
		}
		img, err := raster.Decode(r.Data)
		if err != nil {
			continue // store verify names it
		}
		left, top := s.at(float64(r.X)*side, float64(r.Y)*side)
		draw.ApproxBiLinear.Scale(ground, box(left, top, left+side*s.scale, top+side*s.scale), img, img.Bounds(), draw.Over, nil)
		n++
	}
	return n, nil
}

// lay puts the drawn ground where the cover has tiles.
func (s *sheet) lay(ground *image.RGBA, c tiles.Cover) {
	side := 1 / float64(uint64(1)<<c.Zoom())
	for _, run := range c.Spans() {
		left, top := s.at(float64(run.First)*side, float64(run.Row)*side)
		r := box(left, top, left+float64(run.Last-run.First+1)*side*s.scale, top+side*s.scale)
		draw.Draw(s.img, r, ground, r.Min, draw.Over)
	}
}

// box rounds to whole pixels; what is thinner than one is one wide.
func box(left, top, right, bottom float64) image.Rectangle {
	r := image.Rect(int(math.Round(left)), int(math.Round(top)), int(math.Round(right)), int(math.Round(bottom)))
	return image.Rectangle{r.Min, image.Pt(max(r.Max.X, r.Min.X+1), max(r.Max.Y, r.Min.Y+1))}
}

// above is the cover of a shallower zoom that holds all of a cover.
func above(c tiles.Cover, zoom int) tiles.Cover {
	down := c.Zoom() - zoom
	spans := make([]tiles.Span, 0, len(c.Spans()))
	for _, r := range c.Spans() {
		spans = append(spans, tiles.Span{Row: r.Row >> down, First: r.First >> down, Last: r.Last >> down})
	}
	return tiles.NewCover(zoom, spans)
}
