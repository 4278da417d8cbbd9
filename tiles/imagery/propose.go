package imagery

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"regexp"
	"strings"

	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
)

// Proposal is what the pictures of a source say of themselves.
type Proposal struct {
	Source source.Source // with zooms, bounds, resolution, capture date, scale as proposed
	Notes  []string      // how they are read, and what a person should know
}

// Propose looks at pictures and proposes how to state them. What the draft states
// is taken as it is. Errors are those of [Open].
func Propose(ctx context.Context, draft source.Source, remote *Remote) (p Proposal, err error) {
	o, err := start(ctx, draft, remote)
	if err != nil {
		return p, err
	}
	defer func() { err = errors.Join(err, o.close()) }()
	p.Source = draft
	p.Source.Kind, p.Source.TileSize = source.KindRaster, max(draft.TileSize, 256)
	if len(draft.Scale) == 0 {
		o.src.Scale = []float64{0, 1} // so that a picture of 16 bits is looked at
	}
	pictures, aside, err := o.all(ctx)
	if err != nil {
		return p, err
	}
	p.place(pictures)
	p.mosaic(pictures, aside)
	if err := p.values(pictures, len(draft.Scale) > 0); err != nil {
		return p, err
	}
	if pictures[0].layout.kind != "Byte" && len(draft.Scale) == 0 {
		one, err := o.look(ctx, pictures[0], true) // statistics of one picture stand for all
		if err == nil {
			err = p.scale(one)
		}
		if err != nil {
			return p, err
		}
	}
	p.date(pictures)
	return p, nil
}

func (p *Proposal) note(format string, args ...any) {
	p.Notes = append(p.Notes, fmt.Sprintf(format, args...))
}

// steps is how far above the sharpest zoom pictures without overviews are used:
// every zoom more reads four times as many pixels for a tile.
const steps = 3

// place proposes bounds, resolution and zooms.
func (p *Proposal) place(pictures []picture) {
	box := ground(pictures)
	p.Source.Bounds = &box
	sharpest, coarsest := pictures[0].pixel, 0.0
	for _, one := range pictures {
		sharpest = min(sharpest, one.pixel)
	}
	coarsest = math.Inf(1)
	for _, one := range pictures {
		coarsest = min(coarsest, one.pixel*one.coarse)
	}
	p.Source.GroundResolution = measure.Distance(sharpest)
	lat := 0.0 // the one nearest the equator: pixels are largest there
	if box.South > 0 || box.North < 0 {
		lat = min(math.Abs(box.South), math.Abs(box.North))
	}
	deepest := min(tiles.NativeZoom(lat, sharpest, p.Source.TileSize), tiles.MaxZoom)
	shallowest := 0
	for shallowest < deepest && tiles.GroundResolution(lat, shallowest, p.Source.TileSize) > coarsest*(1<<steps) {
		shallowest++
	}
	if p.Source.Zooms == (tiles.Zooms{}) {
		p.Source.Zooms = tiles.Zooms{Min: shallowest, Max: deepest}
	}
	systems := map[string]bool{}
	for _, one := range pictures {
		systems[one.system] = true
	}
	first := pictures[0].system
	if len(systems) > 1 {
		first += fmt.Sprintf(" and %d more", len(systems)-1)
	}
	p.note("coordinate system: %.160s; pixels of %.3g m on the ground", first, sharpest)
	switch {
	case strings.Contains(first, "NAD83"):
		p.note("NAD83 is drawn as if it were WGS 84, as maps commonly do: the picture may lie 1 to 2 m beside positions in WGS 84")
	case !strings.Contains(first, "WGS 84"):
		p.note("its datum is brought to WGS 84 as GDAL does by itself; how exact that is is not known")
	}
	if shallowest > 8 {
		p.note("zooms begin at %d, because the picture has no coarser overviews: gdaladdo makes them, and every zoom is fast then", shallowest)
	}
}

// mosaic tells which pictures there are, and in what order they lie.
func (p *Proposal) mosaic(pictures []picture, aside []string) {
	if n := len(pictures); n > 1 {
		p.note("%d pictures; where two overlap, the later one is on top, and the last is %s", n, pictures[n-1].name)
	}
	if len(aside) > 0 {
		p.note("left out: %s without a place on the ground, such as %s", measure.Count(len(aside), "picture"), aside[0])
	}
	if l := pictures[0].layout; pictures[0].vrt {
		p.note("a mosaic (VRT) of plain files: its own order holds")
	} else if l.hasMap {
		p.note("its colors are those of a palette: pixels are taken as they are, so it looks coarse where it is made smaller")
	}
	if p.Source.Background == "" && p.Source.Format != "image/png" {
		p.note("tiles at its rim are transparent there, which makes a pack with one of them PNG, several times as large: state background to keep JPEG")
	}
	some, all := false, true
	for _, one := range pictures {
		has := one.layout.alpha >= 0 || one.layout.nodata != "" && one.layout.nodata != "null" || one.masked()
		some, all = some || has, all && has
	}
	if !all && p.Source.NoData == nil {
		p.note("nothing marks where %s no picture; if its rim is black or white, state the value: nodata = 0, or 255",
			map[bool]string{true: "some of them have", false: "it has"}[some])
	}
}

// masked reports whether a picture has a mask of its own.
func (p picture) masked() bool {
	m := p.about.Bands[0].Mask
	return m != nil && len(m.Flags) > 0 && m.Flags[0] == "PER_DATASET"
}

// values tells which bands are shown, and proposes what becomes black and white.
func (p *Proposal) values(pictures []picture, stated bool) error {
	one := pictures[0]
	l := one.layout
	if l.bands > 1 && !l.hasMap && len(p.Source.Bands) == 0 {
		named := one.about.Bands[l.red].Color == "Red" || l.red == l.green
		if named {
			p.note("bands shown: %d, %d, %d, as the file names them red, green and blue", l.red+1, l.green+1, l.blue+1)
		} else {
			p.note("bands shown: 1, 2, 3 as red, green and blue, which the file does not say: compare the colors, and state bands if they are wrong")
		}
	}
	for _, other := range pictures {
		if (other.layout.kind == "Byte") != (l.kind == "Byte") && !stated {
			return unusable(other.name, "pictures of 8 and of more bits are mixed", "make a source of each kind, or state scale")
		}
	}
	return nil
}

// scale proposes what becomes black and white from the statistics of a picture.
func (p *Proposal) scale(one picture) error {
	l := one.layout
	low, high := math.Inf(1), math.Inf(-1)
	for _, i := range []int{l.red, l.green, l.blue} {
		b := one.about.Bands[i]
		if b.Minimum == nil || b.Maximum == nil || b.Mean == nil || b.StdDev == nil {
			return unusable(one.name, "its values are of type "+l.kind+", and it has no statistics", "state what becomes black and white: --scale LOW,HIGH")
		}
		const spread = 2.5 // standard deviations: what is beyond is clipped
		low = min(low, max(*b.Minimum, *b.Mean-spread**b.StdDev))
		high = max(high, min(*b.Maximum, *b.Mean+spread**b.StdDev))
	}
	if !(low < high) {
		return unusable(one.name, "all its values are alike", "state what becomes black and white: --scale LOW,HIGH")
	}
	if l.kind != "Float32" && l.kind != "Float64" {
		low, high = math.Floor(low), math.Ceil(high)
	}
	p.Source.Scale = []float64{low, high}
	p.note("values of type %s: %g becomes black and %g white, proposed from a sample of the values of %s; darker and brighter ones are clipped. Change scale if it looks wrong",
		l.kind, low, high, one.name)
	return nil
}

// day is how GDAL and Exif write one.
var day = regexp.MustCompile(`^(\d{4})[-:](\d{2})[-:](\d{2})`)

// date proposes the day of the flight, if all pictures state it; the day on which
// the file was made is not it.
func (p *Proposal) date(pictures []picture) {
	if p.Source.Captured != "" {
		return
	}
	first, last := "", ""
	for _, one := range pictures {
		taken := one.metadata("IMAGERY", "ACQUISITIONDATETIME")
		if taken == "" {
			taken = one.metadata("EXIF", "EXIF_DateTimeOriginal")
		}
		m := day.FindStringSubmatch(taken)
		if m == nil {
			first = ""
			break
		}
		on := m[1] + "-" + m[2] + "-" + m[3]
		if first == "" || on < first {
			first = on
		}
		last = max(last, on)
	}
	switch made := day.FindStringSubmatch(pictures[0].metadata("", "TIFFTAG_DATETIME")); {
	case first != "" && first == last:
		p.Source.Captured = first
	case first != "":
		p.Source.Captured = first + " to " + last
	case made != nil:
		p.note("the file was made on %s-%s-%s by what it says, which is not the day of the flight: ask for that, and state captured", made[1], made[2], made[3])
	}
}

// metadata is one value of what a picture says of itself, "" if it has none.
func (p picture) metadata(domain, key string) string {
	var values map[string]string
	if json.Unmarshal(p.about.Metadata[domain], &values) != nil {
		return ""
	}
	return values[key]
}
