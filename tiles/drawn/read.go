package drawn

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/project"

	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/plainmap"
	"groundsheet/tiles/source"
	"groundsheet/tiles/vector"
)

// Unusable is the kind of fault of a file that cannot be drawn as stated.
var Unusable = fault.Input("unusable")

func unusable(path, why, remedy string) error {
	return &fault.Fault{Kind: Unusable, Place: path, Detail: why, Remedy: remedy}
}

// stamp is what tells one version of a file from another.
type stamp struct{ name, text string }

// read is what a file gave.
type read struct {
	shapes []plainmap.Shape
	info   vector.Info
	fields []string // names of the fields of its features
	stamp  stamp
	hidden int // shapes that only leaves out
}

// mostPositions bounds what all files of a source hold together: some 16 bytes each,
// several times over while they are read.
const mostPositions = 10_000_000

// readAll reads every file of a source.
func readAll(draws []source.Draw) (all []read, err error) {
	positions := 0
	for i, d := range draws {
		one, err := readOne(d)
		if err != nil {
			return nil, fmt.Errorf("file %d, %s: %w", i+1, d.File, err)
		}
		for _, s := range one.shapes {
			positions += geojson.Positions(s.Geometry)
		}
		if positions > mostPositions {
			return nil, unusable(d.File, fmt.Sprintf("with it all files hold more than %d positions", mostPositions),
				"cut the files to the ground of your jobs, or make several sources")
		}
		all = append(all, one)
	}
	return all, nil
}

// readOne reads one file as it is stated.
func readOne(d source.Draw) (r read, err error) {
	if r.stamp, err = stampOf(d); err != nil {
		return r, err
	}
	f, err := vector.Open(d.File)
	if err != nil {
		return r, err
	}
	f.How = vector.How{EPSG: d.EPSG, Layers: d.Layers, Encoding: d.Encoding}
	features, info, err := vector.Read(f, vector.Anything)
	if err != nil {
		return r, err
	}
	r.info = info
	seen := map[string]bool{}
	for _, one := range features {
		for name := range one.Properties {
			seen[name] = true
		}
		value := func(field string) (string, bool) { return source.TextOf(one.Properties, field) }
		if !d.Shows(value) {
			r.hidden++
			continue
		}
		s := plainmap.Shape{Role: d.Role}
		if one.Geometry == nil {
			continue
		}
		s.Geometry = project.Geometry(orb.Clone(one.Geometry), func(p orb.Point) orb.Point {
			x, y := tiles.Project(p[0], p[1])
			return orb.Point{x, y}
		})
		if d.Name != "" {
			s.Name, _ = value(d.Name)
		}
		r.shapes = append(r.shapes, s)
	}
	for name := range seen {
		r.fields = append(r.fields, name)
	}
	slices.Sort(r.fields)
	return r, r.check(d)
}

// check refuses fields that no shape of the file has: a base without its names, or
// without its streets, should not be a surprise on site.
func (r read) check(d source.Draw) error {
	has := func(field string) bool {
		return slices.ContainsFunc(r.fields, func(f string) bool { return strings.EqualFold(f, field) })
	}
	known := "it has " + listed(r.fields)
	if d.Name != "" && !has(d.Name) {
		return unusable(d.File, fmt.Sprintf("there is no field %q for the name: %s", d.Name, known), "fix name, or take it out")
	}
	for field := range d.Only {
		if !has(field) {
			return unusable(d.File, fmt.Sprintf("there is no field %q for only: %s", field, known), "fix only, or take it out")
		}
	}
	if len(r.shapes) == 0 {
		return unusable(d.File, "no shape has the values of only", "fix only, or take this file out")
	}
	return nil
}

func listed(fields []string) string {
	const most = 30
	var quoted []string
	for _, f := range fields[:min(len(fields), most)] {
		quoted = append(quoted, strconv.Quote(f))
	}
	switch text := strings.Join(quoted, ", "); {
	case len(fields) == 0:
		return "no fields"
	case len(fields) > most:
		return fmt.Sprintf("%s and %d more", text, len(fields)-most)
	default:
		return text
	}
}

// stampOf looks at a file and those that belong to it.
func stampOf(d source.Draw) (s stamp, err error) {
	s.name = filepath.Base(d.File)
	ending := filepath.Ext(d.File)
	bare := strings.TrimSuffix(d.File, ending)
	for i, path := range append([]string{d.File}, sides(bare, ending)...) {
		info, err := os.Stat(path)
		switch {
		case err == nil:
			s.text += fmt.Sprintf("%s %d %d\n", filepath.Base(path), info.Size(), info.ModTime().UnixNano())
		case i == 0:
			return s, err
		}
	}
	return s, nil
}

func sides(bare, ending string) (all []string) {
	for _, side := range vector.SideFiles(ending) {
		all = append(all, bare+side, bare+strings.ToUpper(side))
	}
	return all
}
