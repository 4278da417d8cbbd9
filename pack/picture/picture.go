// Package picture draws a plan as a PNG: the dig area, its margin, what is recorded
// and the tiles of one zoom over the stored imagery, so that a person sees what
// will be packed.
package picture

import (
	"cmp"
	"context"
	"fmt"
	"image/color"
	"image/png"
	"io"

	"groundsheet/pack/plan"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
)

var (
	paper      = color.RGBA{0xff, 0xff, 0xff, 0xff}
	ink        = color.RGBA{0x1c, 0x20, 0x26, 0xff}
	tileFill   = color.RGBA{0xdd, 0xe6, 0xee, 0xff}
	tileEdge   = color.RGBA{0x9a, 0xab, 0xbb, 0xff}
	marginEdge = color.RGBA{0x6a, 0x70, 0x78, 0xff}
	areaFill   = color.RGBA{0xb9, 0xb4, 0xa6, 0xff}
)

// Write draws one zoom of a plan as a PNG, over its imagery in the store; held may
// be nil. The zoom has to be one of the plan's, else the error lists them; other
// errors are those of the store and of the writer.
func Write(ctx context.Context, w io.Writer, p plan.Plan, zoom int, held Held) (Imagery, error) {
	for i, c := range p.Covers {
		if c.Zoom() != zoom {
			continue
		}
		d := newDrawing(c)
		imagery, err := d.plan(ctx, p, i, held)
		if err == nil {
			err = png.Encode(w, d.img)
		}
		return imagery, err
	}
	return Imagery{}, fmt.Errorf("picture of zoom %d: the plan has zooms %d to %d", zoom, p.Base.Zooms.Min,
		p.Base.Zooms.Max)
}

// Deepest is the deepest zoom of a plan whose tiles can be told apart in a
// picture.
func Deepest(p plan.Plan) int {
	for i := len(p.Covers) - 1; i > 0; i-- {
		if d, _, _ := frame(p.Covers[i]); d.side(p.Covers[i].Zoom()) >= minBordered {
			return p.Covers[i].Zoom()
		}
	}
	return p.Covers[0].Zoom()
}

// plan draws the cover with the number i.
func (d *drawing) plan(ctx context.Context, p plan.Plan, i int, held Held) (Imagery, error) {
	none := color.RGBA{}
	d.fillTiles(p.Covers[i])
	d.outline(p.Ground.Area, areaFill, areaFill, 0)
	imagery, err := d.imagery(ctx, p, i, held)
	if err != nil {
		return imagery, err
	}
	d.tileBorders(p.Covers[i])
	dig, margin := p.Ground.Area, p.Ground.Margin
	if p.Job.Margin <= 0 {
		margin = nil
	}
	if imagery.Drawn() { // dark lines are lost on dark ground
		d.outline(dig, none, paper, 6)
		d.outline(margin, none, paper, 6)
	}
	d.outline(dig, none, ink, 2)
	d.outline(margin, none, marginEdge, 2)
	for _, o := range p.Overlays {
		for _, f := range o.Features {
			d.record(f.Geometry, hexColor(o.Kind.Color), hexColor(o.Kind.Casing))
		}
	}
	d.title(p, i, imagery)
	return imagery, nil
}

// title says what is drawn, in words, and whose imagery it is.
func (d *drawing) title(p plan.Plan, i int, imagery Imagery) {
	width, height := float64(d.img.Rect.Dx()), d.img.Rect.Dy()
	d.box(0, 0, width, border+titleRoom-8, paper) // no line runs through the words
	c := p.Covers[i]
	_, lat := p.Middle()
	side := measure.Distance(tiles.GroundResolution(lat, c.Zoom(), p.Source.TileSize) * float64(p.Source.TileSize))
	d.text(border, border, fmt.Sprintf("%s: zoom %d of %s", p.Job.Name, c.Zoom(), p.Source.Name))
	dig := "filled"
	if imagery.Drawn() {
		dig = "outlined, filled where no imagery is held"
		d.box(0, float64(height-border+4), width, float64(height), paper)
		d.text(border, height-7, "imagery: "+cmp.Or(p.Source.Attribution, p.Source.Name+", attribution not stated"))
	}
	d.text(border, border+18, fmt.Sprintf("%s of %s a side; dig area %s, margin %s outlined; north is up",
		measure.Count(c.Count(), "tile"), side.In(p.Job.Units), dig, p.Job.Margin.In(p.Job.Units)))
}
