package job

import (
	"cmp"
	"fmt"
	"path/filepath"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/tiles"
	"groundsheet/tiles/area"
	"groundsheet/tiles/geojson"
)

// Inputs is a job with everything its files hold. Read it with [Job.ReadInputs].
type Inputs struct {
	Job      Job
	Area     area.Area
	Ground   pack.Ground // the outlines of Area, without and with its margin
	Overlays []record.Overlay
	Notes    []string // sentences for the user: what was left out of a file or assumed
	Packed   Packed
}

// Packed is the inputs as every pack of the job holds them.
type Packed struct {
	Area     []byte    // GeoJSON of the ground
	Bounds   tiles.Box // in degrees: the area with its margin
	Overlays []pack.PackedOverlay
}

// maxOutline keeps the outlines of the area and of its margin readable: a GeoJSON
// text holds them both (the project's own choice, no source).
const maxOutline = geojson.MaxPositions / 2

// ReadInputs reads the files of the job, each once. Errors name the file and the
// place in it.
func (j Job) ReadInputs() (Inputs, error) {
	in := Inputs{Job: j}
	var err error
	if in.Area, in.Notes, err = j.ReadArea(); err != nil {
		return Inputs{}, err
	}
	if in.Ground, err = j.ground(in.Area); err != nil {
		return Inputs{}, err
	}
	var notes []string
	if in.Overlays, notes, err = j.readOverlays(); err != nil {
		return Inputs{}, err
	}
	in.Notes = append(in.Notes, notes...)
	in.Packed.Bounds = bounds(in.Area, in.Ground.Margin)
	if in.Packed.Area, err = in.Ground.GeoJSON(); err != nil {
		return Inputs{}, err
	}
	in.Packed.Overlays, err = pack.Overlays(in.Overlays, in.Packed.Bounds)
	return in, err
}

// Redrawn is the inputs of a changed job over another area, with the records as they
// were read. It opens no file and makes nothing new to pack: it is for a plan.
func (in Inputs) Redrawn(j Job, whole area.Area) (out Inputs, err error) {
	out = Inputs{Job: j, Area: whole, Overlays: in.Overlays, Packed: in.Packed, Notes: j.elsewhere()}
	out.Ground, err = j.ground(whole)
	return out, err
}

// ground is the outlines of the job's area.
func (j Job) ground(whole area.Area) (pack.Ground, error) {
	dig := whole.Outline(0)
	if n := positions(dig); n > maxOutline {
		return pack.Ground{}, invalid(filepath.Join(j.Dir, FileName),
			fmt.Sprintf("the outline of the area has %d corners; more than %d is more than a phone draws", n, maxOutline),
			"simplify the shapes of the area, or split the job")
	}
	return pack.NewGround(whole, dig, j.Margin.Meters()), nil
}

func positions(m orb.MultiPolygon) (n int) {
	for _, polygon := range m {
		for _, ring := range polygon {
			n += len(ring)
		}
	}
	return n
}

// Frame is the box round the area. Where the area crosses the antimeridian its
// east goes beyond 180, so that it is as wide as the ground is.
func (in Inputs) Frame() tiles.Box {
	b := in.Area.Bounds()
	if b.East-b.West <= 180 {
		return b
	}
	if len(in.Ground.Area) == 0 {
		return b
	}
	joined := tiles.Box{West: 360, South: b.South, East: -180, North: b.North}
	for _, polygon := range in.Ground.Area {
		p := polygon.Bound()
		shift := 0.0
		if p.Right() < 0 {
			shift = 360
		}
		joined.West, joined.East = min(joined.West, p.Left()+shift), max(joined.East, p.Right()+shift)
	}
	if joined.East-joined.West > 180 {
		return b // it really is that wide
	}
	return joined
}

// Middle is the middle of the area, in degrees.
func (in Inputs) Middle() (lon, lat float64) {
	lon, lat = in.Frame().Center()
	if lon > 180 {
		lon -= 360
	}
	return lon, lat
}

// bounds is the box round the area and its margin: every zoom covers it as far
// as the area goes (MBTiles 1.3, bounds).
func bounds(a area.Area, whole orb.MultiPolygon) tiles.Box {
	if len(whole) == 0 { // a point or a line without width or margin
		return a.Bounds()
	}
	b := whole.Bound()
	if b.Right()-b.Left() > 180 {
		// It crosses the antimeridian: MBTiles bounds cannot. The larger side is
		// where a reader should begin.
		b = slices.MaxFunc(whole, func(a, b orb.Polygon) int {
			return cmp.Compare(width(a), width(b))
		}).Bound()
	}
	return tiles.Box{West: max(b.Left(), -180), South: max(b.Bottom(), -tiles.MaxLatitude),
		East: min(b.Right(), 180), North: min(b.Top(), tiles.MaxLatitude)}
}

func width(p orb.Polygon) float64 { return p.Bound().Right() - p.Bound().Left() }
