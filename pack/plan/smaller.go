package plan

import (
	"context"
	"fmt"
	"strings"

	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// Choice is one way to make a pack smaller, with its numbers.
type Choice struct {
	What    string    `json:"what"`           // what would be given up
	Write   string    `json:"write"`          // what to write into job.toml
	Tiles   int64     `json:"tiles"`          // of the whole plan, then
	Bytes   int64     `json:"bytes_estimate"` // of the whole pack, then
	Fits    bool      `json:"fits"`
	Set     []Setting `json:"set"`      // Write as values
	Places  string    `json:"places"`   // where a reading can be placed, then: [Everywhere], [NearLines] or [Nowhere]
	GivesUp string    `json:"gives_up"` // "" = nothing; else "spare", "more", "deep", "quality", "margin" or "zooms"
}

// Setting is a value of job.toml by its path; nil takes it out.
type Setting struct {
	Key   string `json:"key"` // such as "margin" or "base[0].zooms"
	Value any    `json:"value"`
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

// offer adds a proposal with what it sets, by key and value.
func (p *Plan) offer(o Choice, set ...any) {
	for i := 0; i+1 < len(set); i += 2 {
		o.Set = append(o.Set, p.setting(set[i].(string), set[i+1]))
	}
	o.Fits = p.fits(o.Bytes)
	p.Instead = append(p.Instead, o)
}

// setting is one of the job, or of the base that is planned: "base.KEY".
func (p *Plan) setting(key string, value any) Setting {
	if own, is := strings.CutPrefix(key, "base."); is {
		key = fmt.Sprintf("base[%d].%s", p.number, own)
	}
	return Setting{key, value}
}

func (p *Plan) fits(bytes int64) bool { return p.Job.FitIn == 0 || bytes <= int64(p.Job.FitIn) }

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
		fits, text := p.fits(bytes), reach.Text(p.Job.Units)
		o := Choice{Tiles: count, Bytes: bytes, Places: p.places(line.Zoom - 1), GivesUp: "deep"}
		if o.Places == Nowhere && p.places(p.Base.Zooms.Max) == Everywhere {
			o.Places = NearLines
		}
		if i == last {
			o.What = words.Say("plan.near_lines", "zoom", line.Zoom, "reach", reach.In(p.Job.Units),
				"elsewhere", p.placing(line.Zoom-1))
			o.Write = fmt.Sprintf("deep_along = %q in [[base]]", text)
			p.offer(o, "base.deep_along", text)
		} else if fits {
			o.What = words.Say("plan.near_lines_from", "zoom", line.Zoom, "deepest", p.Base.Zooms.Max,
				"reach", reach.In(p.Job.Units), "elsewhere", p.placing(line.Zoom-1))
			o.Write = fmt.Sprintf("deep_along = %q and deep_from = %d in [[base]]", text, line.Zoom)
			p.offer(o, "base.deep_along", text, "base.deep_from", line.Zoom)
		}
		if fits {
			return
		}
	}
}

// pixels is what a reading covers at a zoom, no sharper than the source's picture.
func (p *Plan) pixels(zoom int) float64 {
	if native := p.Advice.NativeZoom; native != nil {
		zoom = min(zoom, *native)
	}
	return p.Advice.ReadingM / tiles.GroundResolution(sharpestLatitude(p.Area.Bounds()), zoom, p.Source.TileSize)
}

// placing says whether a zoom still holds the job's own reading.
func (p *Plan) placing(zoom int) string {
	pixels := p.pixels(zoom)
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
	p.offer(Choice{
		What:  words.Say("plan.half_margin", "margin", half.In(j.Units)),
		Write: fmt.Sprintf("margin = %q", half.Text(j.Units)),
		Tiles: count, Bytes: bytes, Places: p.asDrawn().Places, GivesUp: "margin",
	}, "margin", half.Text(j.Units))
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
		o := Choice{
			What: words.Say("plan.shallower", "zoom", deepest.Zoom,
				"size", measure.Distance(deepest.GroundResolution).In(p.Job.Units), "placing", p.placing(deepest.Zoom)),
			Write: fmt.Sprintf("zooms = [%d, %d] in [[base]]", p.Base.Zooms.Min, deepest.Zoom),
			Tiles: count, Bytes: bytes, Places: p.places(deepest.Zoom), GivesUp: "zooms",
		}
		if o.Places == Everywhere {
			o.GivesUp = "spare"
		}
		set := []any{"base.zooms", []int{p.Base.Zooms.Min, deepest.Zoom}}
		if p.Base.DeepFrom > deepest.Zoom {
			o.Write += fmt.Sprintf(", and take deep_along and deep_from = %d out", p.Base.DeepFrom)
			set = append(set, "base.deep_along", nil, "base.deep_from", nil)
		}
		p.offer(o, set...)
		if p.fits(bytes) {
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
	p.offer(Choice{
		What:  words.Say("plan.quality", "quality", proposedQuality, "n", measured),
		Write: fmt.Sprintf("jpeg_quality = %d in [[base]]", proposedQuality),
		Tiles: p.Tiles, Bytes: bytes, Places: p.asDrawn().Places, GivesUp: "quality",
	}, "base.jpeg_quality", proposedQuality)
	return nil
}
