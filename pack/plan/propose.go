package plan

import (
	"context"
	"fmt"

	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// Proposal is one way to make a pack smaller, with its numbers.
type Proposal struct {
	What  string `json:"what"`           // what would be given up
	Write string `json:"write"`          // what to write into job.toml
	Tiles int64  `json:"tiles"`          // of the whole plan, then
	Bytes int64  `json:"bytes_estimate"` // of the whole pack, then
	Fits  bool   `json:"fits"`
}

// propose works out what could be given up when the estimate is over fit_in.
func (p *Plan) propose(ctx context.Context, o Options) error {
	if p.Fits() || len(p.Zooms) == 0 {
		return nil
	}
	p.proposeDeep()
	p.proposeMargin()
	p.proposeZooms()
	return p.proposeQuality(ctx, o)
}

func (p *Plan) offer(what, write string, tiles, bytes int64) {
	p.Proposals = append(p.Proposals, Proposal{what, write, tiles, bytes, bytes <= int64(p.Job.FitIn)})
}

// proposeDeep keeps deep zooms to the recorded lines: the deepest alone, and as
// many as it takes until it fits. Where nothing is recorded near, that would
// leave nothing.
func (p *Plan) proposeDeep() {
	reach := measure.Distance(30 * measure.Foot)
	if p.Job.Units == "metric" {
		reach = 10
	}
	if p.Base.DeepAlong > 0 || len(p.Overlays) == 0 {
		return
	}
	count, bytes, last := p.Tiles, p.Bytes, len(p.Covers)-1
	for i := last; i > 0 && p.Zooms[i-1].GroundResolution <= coarsest; i-- {
		line := p.Zooms[i]
		near := along(p.Overlays, tiles.Zooms{Min: line.Zoom, Max: line.Zoom}, reach)[0]
		n := int64(tiles.Intersect(p.Covers[i], near).Count())
		if n == 0 {
			return
		}
		share := float64(n) / float64(max(line.Tiles, 1))
		count, bytes = count-line.Tiles+n, bytes-line.BytesEstimate+int64(float64(line.BytesEstimate)*share)
		fits := bytes <= int64(p.Job.FitIn)
		if i == last {
			p.offer(words.Say("plan.near_lines", "zoom", line.Zoom, "reach", reach.In(p.Job.Units),
				"elsewhere", p.placing(line.Zoom-1)),
				fmt.Sprintf("deep_along = %q in [[base]]", reach.Text(p.Job.Units)), count, bytes)
		} else if fits {
			p.offer(words.Say("plan.near_lines_from", "zoom", line.Zoom, "deepest", p.Base.Zooms.Max,
				"reach", reach.In(p.Job.Units), "elsewhere", p.placing(line.Zoom-1)),
				fmt.Sprintf("deep_along = %q and deep_from = %d in [[base]]", reach.Text(p.Job.Units), line.Zoom), count, bytes)
		}
		if fits {
			return
		}
	}
}

// placing says whether a zoom still holds the job's own reading.
func (p *Plan) placing(zoom int) string {
	lat := sharpestLatitude(p.Area.Bounds())
	sharp := zoom
	if native := p.Advice.NativeZoom; native != nil {
		sharp = min(sharp, *native)
	}
	pixels := p.Advice.ReadingM / tiles.GroundResolution(lat, sharp, p.Source.TileSize)
	reading, covers := measure.Distance(p.Advice.ReadingM).In(p.Job.Units), fmt.Sprintf("%.1f", pixels)
	if pixels < pixelsToPlace {
		return words.Say("plan.too_coarse", "zoom", zoom, "reading", reading, "pixels", covers, "needed", pixelsToPlace)
	}
	return words.Say("plan.holds", "zoom", zoom, "reading", reading, "pixels", covers, "needed", pixelsToPlace)
}

// proposeMargin halves the margin.
func (p *Plan) proposeMargin() {
	half := p.Job.Margin / 2
	if half <= 0 {
		return
	}
	j := p.Job
	j.Margin = half
	count, bytes := p.Tiles, p.Bytes
	for i, c := range coversOf(j, p.Base, p.Area, p.Overlays) {
		less := p.Zooms[i].Tiles - int64(c.Count())
		count -= less
		bytes -= int64(float64(p.Zooms[i].BytesEstimate) * float64(less) / float64(max(p.Zooms[i].Tiles, 1)))
	}
	p.offer(words.Say("plan.half_margin", "margin", half.In(j.Units)), fmt.Sprintf("margin = %q", half.Text(j.Units)),
		count, bytes)
}

// coarsest is the pixel beyond which a zoom is no use for digging, in meters.
const coarsest = 1.3

// proposeZooms leaves out deep zooms until it fits, or a pixel gets too large
// to be of use.
func (p *Plan) proposeZooms() {
	count, bytes := p.Tiles, p.Bytes
	for i := len(p.Zooms) - 1; i > 0; i-- {
		count -= p.Zooms[i].Tiles
		bytes -= p.Zooms[i].BytesEstimate
		deepest := p.Zooms[i-1]
		if deepest.GroundResolution > coarsest {
			return
		}
		write := fmt.Sprintf("zooms = [%d, %d] in [[base]]", p.Base.Zooms.Min, deepest.Zoom)
		if p.Base.DeepFrom > deepest.Zoom {
			write += fmt.Sprintf(", and take deep_along and deep_from = %d out", p.Base.DeepFrom)
		}
		p.offer(words.Say("plan.shallower", "zoom", deepest.Zoom,
			"size", measure.Distance(deepest.GroundResolution).In(p.Job.Units), "placing", p.placing(deepest.Zoom)),
			write, count, bytes)
		if bytes <= int64(p.Job.FitIn) {
			return
		}
	}
}

// proposedQuality still shows what a crew needs (common practice, no source).
const proposedQuality = 70

// proposeQuality packs JPEGs of a lower quality; what that brings is measured
// on held tiles, so there is no proposal before some are held.
func (p *Plan) proposeQuality(ctx context.Context, o Options) error {
	if o.Shelf == nil || p.Base.Quality > 0 {
		return nil
	}
	ratio, measured, err := shrinking(ctx, p, o.Shelf, proposedQuality)
	if err != nil || measured == 0 || ratio >= 1 {
		return err
	}
	bytes := p.Bytes
	for _, z := range p.Zooms {
		images := z.BytesEstimate - (z.Tiles-z.Absent)*bytesPerTile
		bytes -= int64(float64(images) * (1 - ratio))
	}
	p.offer(words.Say("plan.quality", "quality", proposedQuality, "n", measured),
		fmt.Sprintf("jpeg_quality = %d in [[base]]", proposedQuality), p.Tiles, bytes)
	return nil
}
