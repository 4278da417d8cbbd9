package plan

import (
	"math"

	"github.com/paulmach/orb"

	"groundsheet/pack/job"
	"groundsheet/pack/record"
	"groundsheet/tiles"
	"groundsheet/tiles/area"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
)

// SixInches is what a reading is good for when the job does not say.
const SixInches = 6 * measure.Inch

// pixelsToPlace is how many pixels a thing must have to be placed by eye
// (common practice, no source: two to three).
const pixelsToPlace = 3

// screen is the width of a phone's map in pixels, for the shallowest zoom.
const screen = 512

// approach is the shallowest zoom that a crew needs to find the street; larger
// areas begin shallower.
const approach = 14

// Advice is what the ground asks of the zooms.
type Advice struct {
	ReadingM    float64 `json:"reading_m"`     // what a reading is good for
	ZoomToPlace int     `json:"zoom_to_place"` // from here on it covers at least 3 pixels
	// what it covers at the deepest zoom that shows more than the one before
	PixelsAtDeepest float64 `json:"pixels_at_deepest"`
	CanPlace        bool    `json:"can_place"`   // the source's picture is sharp enough for that
	NativeZoom      *int    `json:"native_zoom"` // the source's own sharpness; null when not stated
	Magnified       []int   `json:"magnified"`   // zooms asked for that only magnify
	Chosen          bool    `json:"chosen"`      // the job gave no zooms
}

// zoomsOf gives the zooms of a base: those of the job, or chosen ones, without those
// that only magnify.
func zoomsOf(in job.Inputs, b job.Base, src source.Source) (tiles.Zooms, Advice) {
	lat, j := sharpestLatitude(in.Area.Bounds()), in.Job
	z, advice := b.Zooms, Advice{ReadingM: SixInches, Magnified: []int{}, Chosen: b.Auto}
	if j.Reading > 0 {
		advice.ReadingM = j.Reading.Meters()
	}
	advice.ZoomToPlace = tiles.ZoomToPlace(lat, advice.ReadingM, pixelsToPlace, src.TileSize)
	native := tiles.MaxZoom
	if src.GroundResolution > 0 {
		native = tiles.NativeZoom(lat, src.GroundResolution.Meters(), src.TileSize)
		advice.NativeZoom = &native
	}
	if b.Auto {
		deepest := advice.ZoomToPlace
		if !b.Magnified {
			deepest = min(native, deepest)
		}
		z = chooseZooms(in.Frame(), src, deepest)
	}
	for deep := max(native+1, z.Min); deep <= z.Max; deep++ {
		advice.Magnified = append(advice.Magnified, deep)
	}
	if !b.Magnified && native >= z.Min {
		z.Max = min(z.Max, native)
	}
	advice.PixelsAtDeepest = advice.ReadingM / tiles.GroundResolution(lat, min(z.Max, native), src.TileSize)
	advice.CanPlace = advice.ZoomToPlace <= min(native, src.Zooms.Max)
	return z, advice
}

// coversOf gives the tiles of each zoom of a base.
func coversOf(j job.Job, b job.Base, whole area.Area, overlays []record.Overlay) []tiles.Cover {
	all := whole.Covers(b.Zooms, j.Margin.Meters())
	if b.DeepAlong == 0 {
		return all
	}
	from := b.DeepFrom
	if from == 0 {
		from = b.Zooms.Max
	}
	if from > b.Zooms.Max {
		return all // those zooms were left out: there is nothing to thin
	}
	from = max(from, b.Zooms.Min)
	for i, c := range along(overlays, tiles.Zooms{Min: from, Max: b.Zooms.Max}, b.DeepAlong) {
		at := from - b.Zooms.Min + i
		all[at] = tiles.Intersect(all[at], c)
	}
	return all
}

// sharpestLatitude is the one nearest the equator: a pixel is largest there, so
// no zoom chosen by it loses detail elsewhere in the area.
func sharpestLatitude(b tiles.Box) float64 {
	if b.South <= 0 && b.North >= 0 {
		return 0
	}
	return min(math.Abs(b.South), math.Abs(b.North))
}

// chooseZooms goes from where the whole area fits a screen (but shallow enough
// to find the street) to where a reading can be placed, as far as the source
// goes.
func chooseZooms(b tiles.Box, src source.Source, deepest int) tiles.Zooms {
	x0, y0 := tiles.Project(b.West, b.North)
	x1, y1 := tiles.Project(b.East, b.South)
	span := max(x1-x0, y1-y0, 1e-12)
	fits := int(math.Floor(math.Log2(screen / (256 * span))))
	z := tiles.Zooms{Min: min(approach, fits), Max: min(deepest, src.Zooms.Max)}
	z.Min = min(max(z.Min, src.Zooms.Min, 0), z.Max)
	z.Max = max(z.Max, z.Min)
	return z
}

// along covers the surroundings of everything that is recorded.
func along(overlays []record.Overlay, z tiles.Zooms, reach measure.Distance) []tiles.Cover {
	var a area.Area
	for _, o := range overlays {
		for _, f := range o.Features {
			addBare(&a, f.Geometry)
		}
	}
	return a.Covers(z, reach.Meters())
}

// addBare adds a geometry without any width.
func addBare(a *area.Area, g orb.Geometry) {
	for part := range geojson.Parts(g) {
		switch part := part.(type) {
		case orb.Point:
			a.Discs = append(a.Discs, area.Disc{Center: part})
		case orb.LineString:
			a.Strips = append(a.Strips, area.Strip{Line: part})
		case orb.Polygon:
			a.Polygons = append(a.Polygons, part)
		}
	}
}
