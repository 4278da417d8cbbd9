package job

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"path/filepath"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/pack/record/intake"
	"groundsheet/tiles/area"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/places"
	"groundsheet/tiles/vector"
	"groundsheet/tiles/words"
)

// ReadArea reads the job's area files and typed shapes into one area. Errors
// name the file and the place; notes are sentences for the user: what was left
// out of a file or assumed.
func (j Job) ReadArea() (whole area.Area, notes []string, err error) {
	add := func(name string, make func() (area.Area, error)) {
		if err != nil {
			return
		}
		var a area.Area
		if a, err = make(); err != nil {
			err = fmt.Errorf("%s: %w", name, err)
			return
		}
		whole = whole.Join(a)
	}
	for _, w := range j.outlines() {
		add(w.File, func() (area.Area, error) {
			features, err := j.features(w.File, w.Form, vector.Areas, &notes)
			if err != nil {
				return area.Area{}, err
			}
			return area.Polygons(keepKinds[orb.Polygon, orb.MultiPolygon](features, w.File, &notes))
		})
	}
	for _, r := range j.Along {
		add(r.File, func() (area.Area, error) {
			features, err := j.features(r.File, r.Form, vector.Lines, &notes)
			if err != nil {
				return area.Area{}, err
			}
			return area.Route(keepKinds[orb.LineString, orb.MultiLineString](features, r.File, &notes), r.Width.Meters())
		})
	}
	for _, c := range j.Around {
		add("[[around]]", func() (area.Area, error) { return area.Around(c.Lat, c.Lon, c.Radius.Meters()) })
	}
	for _, b := range j.Boxes {
		add("[[box]]", func() (area.Area, error) { return area.Polygons(b.features()) })
	}
	if err != nil {
		return area.Area{}, nil, err
	}
	return whole, append(notes, j.elsewhere()...), nil
}

// outlines are all files with outlines of the area.
func (j Job) outlines() (all []Within) {
	for _, name := range j.Area {
		all = append(all, Within{File: name})
	}
	return append(all, j.Within...)
}

// elsewhere notes typed places that are not in the United States and would be
// with the minus of the longitude, or in the other order.
func (j Job) elsewhere() (notes []string) {
	ask := func(key string, lat, lon float64) {
		if a, o, ok := places.MeantInUS(lat, lon); ok {
			notes = append(notes, words.Say("plan.elsewhere", "key", key, "given", fmt.Sprintf("%v, %v", lat, lon),
				"likely", fmt.Sprintf("%v, %v", a, o)))
		}
	}
	if j.Units != "us" {
		return nil
	}
	for _, c := range j.Around {
		ask("[[around]]", c.Lat, c.Lon)
	}
	for _, b := range j.Boxes {
		ask("[[box]]", b.FromLat, b.FromLon)
		ask("[[box]]", b.ToLat, b.ToLon)
	}
	return notes
}

// features is the box as a polygon. Its sides are straight in degrees.
func (b Box) features() []geojson.Feature {
	w, s, e, n := min(b.FromLon, b.ToLon), min(b.FromLat, b.ToLat), max(b.FromLon, b.ToLon), max(b.FromLat, b.ToLat)
	side := func(w, e float64) orb.Polygon { return orb.Polygon{{{w, s}, {e, s}, {e, n}, {w, n}, {w, s}}} }
	if e-w > 180 { // the short way round is over the antimeridian
		return []geojson.Feature{{Geometry: orb.MultiPolygon{side(e, 180), side(-180, w)}, Place: "box"}}
	}
	return []geojson.Feature{{Geometry: side(w, e), Place: "box"}}
}

// readOverlays reads every overlay file of the job, in the job's order.
func (j Job) readOverlays() (all []record.Overlay, notes []string, err error) {
	for i, m := range j.Overlays {
		o, err := j.readOverlay(m, fmt.Sprintf("%d-%s", i+1, m.Utility), &notes)
		if err != nil {
			return nil, nil, err
		}
		all = append(all, o)
	}
	return all, notes, nil
}

func (j Job) readOverlay(m record.Meta, id string, notes *[]string) (record.Overlay, error) {
	f, err := j.open(m.File)
	if err != nil {
		return record.Overlay{}, fmt.Errorf("overlay %s: %w", m.File, err)
	}
	o, more, err := intake.Read(f, m, id)
	*notes = append(*notes, more...)
	return o, err
}

// features reads a file of the job and collects its notes.
func (j Job) features(name string, form record.Form, want vector.Want, notes *[]string) ([]geojson.Feature, error) {
	f, err := j.open(name)
	if err != nil {
		return nil, err
	}
	f.How = vector.How(form)
	features, info, err := vector.Read(f, want)
	for _, n := range info.Notes {
		*notes = append(*notes, name+": "+n)
	}
	if err == nil && strings.HasPrefix(info.Datum, "NAD83") {
		*notes = append(*notes, j.unshifted(name, info.Datum, features))
	}
	return features, err
}

// unshifted tells how far an area on NAD83 may lie from WGS 84, on which positions and
// most base maps are: areas are taken as they are, whatever is shifted of records.
func (j Job) unshifted(name, datum string, features []geojson.Feature) string {
	off := 2.0 // where the published parameters are not for
	for _, f := range features {
		if f.Geometry == nil || !geodesic.OnNAD83(f.Geometry.Bound().Center()) {
			continue
		}
		by := geodesic.NAD83Shift(f.Geometry.Bound().Center(), shiftEpoch)
		off = by.Length()
		break
	}
	off = math.Ceil(10*off) / 10
	say := words.Say("plan.area_datum", "file", name, "datum", datum, "off", record.LengthsIn(j.Units)(off))
	if datum == "NAD83" {
		say += " " + words.Say("plan.area_realization", "more", record.LengthsIn(j.Units)(1))
	}
	return say
}

// shiftEpoch is the year for which the shift of an area is told. In ten years it
// changes by the width of a hand.
const shiftEpoch = 2026

func (j Job) open(name string) (vector.File, error) {
	if data, is := j.unsaved[name]; is {
		return vector.File{Name: name, Data: data, Beside: besideUnsaved(j.unsaved, name)}, nil
	}
	path := name
	if !filepath.IsAbs(path) {
		path = filepath.Join(j.Dir, name)
	}
	f, err := vector.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return f, noFile(path)
	}
	return f, err
}

// noFile is a file that a job names and that is not there.
type noFile string

func (path noFile) Error() string { return string(path) + ": there is no such file: check the name" }

func (noFile) Is(target error) bool { return target == fs.ErrNotExist }

// keepKinds keeps the features of two kinds when there are any, and notes what was
// left out: a pin beside a dig polygon is common. With none of them all are
// kept, so that the error says what is there instead.
func keepKinds[A, B orb.Geometry](features []geojson.Feature, name string, notes *[]string) []geojson.Feature {
	var kept, rest []geojson.Feature
	for _, f := range features {
		switch f.Geometry.(type) {
		case A, B, orb.Collection:
			kept = append(kept, f)
		default:
			rest = append(rest, f)
		}
	}
	if len(kept) == 0 || len(rest) == 0 {
		return features
	}
	*notes = append(*notes, name+": "+passedOver(rest))
	return kept
}

const placeless = "feature without a place"

// mostNamed is how many features that were left out are named.
const mostNamed = 5

// passedOver tells which features were left out: "1 point was left out: ticket pin".
func passedOver(features []geojson.Feature) string {
	counts, total := map[string]int{}, 0
	var names []string
	for _, f := range features {
		kind, n := kindOf(f.Geometry)
		counts[kind] += n
		total += n
		if len(names) < mostNamed {
			names = append(names, nameOf(f))
		}
	}
	if more := len(features) - len(names); more > 0 {
		names = append(names, words.Say("plan.left_more", "n", more))
	}
	var parts []string
	add := func(n int, say string) {
		if n > 0 {
			parts = append(parts, say)
		}
	}
	add(counts["point"], words.Say("plan.left_points", "n", counts["point"]))
	add(counts["line"], words.Say("plan.left_lines", "n", counts["line"]))
	add(counts["outline"], words.Say("plan.left_outlines", "n", counts["outline"]))
	add(counts[placeless], words.Say("plan.left_placeless", "n", counts[placeless]))
	return words.Say("plan.left", "what", words.List(parts), "n", total, "names", strings.Join(names, ", "))
}

// kindOf is what a geometry is, and how many of it there are.
func kindOf(g orb.Geometry) (kind string, n int) {
	switch g := g.(type) {
	case orb.Point:
		return "point", 1
	case orb.MultiPoint:
		return "point", len(g)
	case orb.LineString:
		return "line", 1
	case orb.MultiLineString:
		return "line", len(g)
	case orb.Polygon:
		return "outline", 1
	case orb.MultiPolygon:
		return "outline", len(g)
	}
	return placeless, 1
}

// nameOf is the name of a feature, else its place in its file.
func nameOf(f geojson.Feature) string {
	for _, key := range []string{"name", "Name", "NAME", "label", "title"} {
		if text, ok := f.Properties[key].(string); ok && strings.TrimSpace(text) != "" {
			return fmt.Sprintf("%.60q", strings.TrimSpace(text))
		}
	}
	return f.Place
}
