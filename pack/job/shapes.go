package job

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/vector"
	"groundsheet/tiles/words"
)

// Shape is one shape of a job's area, as a map shows it and as it was drawn there.
// Degrees of WGS 84, longitude first.
type Shape struct {
	// From is what of the job it is: "area[0]" and "along[1]" for those of a file,
	// "around[0]", "box[0]", "drop[0]" for those of a [Dropped] file; "" = drawn anew.
	From   string         `json:"from,omitempty"`
	Kind   string         `json:"kind"`             // "polygon", "route", "circle" or "box"
	Rings  orb.Polygon    `json:"rings,omitempty"`  // of a polygon; a box has its two corners in one ring
	Line   orb.LineString `json:"line,omitempty"`   // of a route
	Width  string         `json:"width,omitempty"`  // of a route, such as "60ft"
	Center *orb.Point     `json:"center,omitempty"` // of a circle
	Radius string         `json:"radius,omitempty"` // of a circle, such as "80ft"
	Name   string         `json:"name,omitempty"`   // as its file has it
	Part   int            `json:"part,omitempty"`   // which of the shapes of its file it is, from 0

	properties map[string]any // in its file
}

// Kinds of shapes.
const (
	polygonShape = "polygon"
	routeShape   = "route"
	circleShape  = "circle"
	boxShape     = "box"
)

// Dropped is a file that was handed over for the area. As long as none of its shapes
// is changed, it goes into the job as it is: an outline that was handed over is evidence.
type Dropped struct {
	File  vector.File
	Along bool // a route; else outlines
}

// Shapes are the shapes of the job's area in the order of the job, and what reading
// its files noted. A file with several shapes gives several with the same From; one that
// is not there gives none, and a note.
func (j Job) Shapes() (all []Shape, notes []string, err error) {
	for i, name := range j.Area {
		one, err := j.shapesOf(fmt.Sprintf("area[%d]", i), Within{File: name}, false, "", &notes)
		if err != nil {
			return nil, nil, err
		}
		all = append(all, one...)
	}
	for i, w := range j.Within {
		one, err := j.shapesOf(fmt.Sprintf("within[%d]", i), w, false, "", &notes)
		if err != nil {
			return nil, nil, err
		}
		all = append(all, one...)
	}
	for i, r := range j.Along {
		one, err := j.shapesOf(fmt.Sprintf("along[%d]", i), Within{r.File, r.Form}, true, r.Width.Text(j.Units), &notes)
		if err != nil {
			return nil, nil, err
		}
		all = append(all, one...)
	}
	for i, c := range j.Around {
		all = append(all, Shape{From: fmt.Sprintf("around[%d]", i), Kind: circleShape, Center: &orb.Point{c.Lon, c.Lat}, Radius: c.Radius.Text(j.Units)})
	}
	for i, b := range j.Boxes {
		all = append(all, Shape{From: fmt.Sprintf("box[%d]", i), Kind: boxShape, Rings: orb.Polygon{{{b.FromLon, b.FromLat}, {b.ToLon, b.ToLat}}}})
	}
	return all, append(notes, j.elsewhere()...), nil
}

func (j Job) shapesOf(from string, w Within, along bool, width string, notes *[]string) ([]Shape, error) {
	name := w.File
	f, err := j.open(name)
	if errors.Is(err, fs.ErrNotExist) { // what else there is can be drawn on, and the file is left out when that is saved
		*notes = append(*notes, words.Say("draw.file_gone", "file", name))
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	f.How = vector.How(w.Form)
	all, told, err := ShapesIn(Dropped{f, along})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	for _, n := range told {
		*notes = append(*notes, name+": "+n)
	}
	for i := range all {
		all[i].From, all[i].Part, all[i].Width = from, i, width
	}
	return all, nil
}

// ShapesIn are the outlines of a file, or its lines; what else is in it is noted.
func ShapesIn(d Dropped) (all []Shape, notes []string, err error) {
	want := vector.Areas
	if d.Along {
		want = vector.Lines
	}
	features, info, err := vector.Read(d.File, want)
	if err != nil {
		return nil, nil, err
	}
	notes = info.Notes
	var rest []geojson.Feature
	for _, f := range features {
		kept := false
		for g := range geojson.Parts(f.Geometry) {
			s, fits := shapeOf(g, d.Along)
			if kept = kept || fits; fits {
				if s.properties = f.Properties; nameOf(f) != f.Place {
					s.Name = strings.Trim(nameOf(f), `"`)
				}
				all = append(all, s)
			}
		}
		if !kept {
			rest = append(rest, f)
		}
	}
	if len(rest) > 0 {
		notes = append(notes, passedOver(rest))
	}
	return all, notes, nil
}

func shapeOf(g orb.Geometry, along bool) (Shape, bool) {
	switch g := g.(type) {
	case orb.Polygon:
		return Shape{Kind: polygonShape, Rings: g}, !along
	case orb.LineString:
		return Shape{Kind: routeShape, Line: g}, along
	}
	return Shape{}, false
}

// sameGround reports whether two shapes have the same corners.
func (s Shape) sameGround(o Shape) bool {
	return s.Kind == o.Kind && slices.Equal(s.Line, o.Line) && slices.EqualFunc(s.Rings, o.Rings, slices.Equal[orb.Ring])
}

// sameLength reports whether two lengths as typed are the same.
func sameLength(a, b string) bool {
	x, errX := measure.ParseDistance(a)
	y, errY := measure.ParseDistance(b)
	return errX == nil && errY == nil && x == y
}
