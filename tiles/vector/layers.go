package vector

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/project"

	"groundsheet/tiles/crs"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/geopackage"
)

// Layer is one layer of a file, for a person to choose from.
type Layer struct {
	Name   string
	Shapes string   // what is in it, in words; "" = not known before it is read
	Fields []string // names of its fields
	System string   // its coordinate system in words; "" = the file does not say
}

// Layers lists the layers of a file, to be chosen with [How.Layers]; nil for a
// format that has none.
func Layers(f File) ([]Layer, error) {
	switch strings.ToLower(filepath.Ext(f.Name)) {
	case ".gpkg":
		return geopackageLayers(f)
	case ".dxf":
		return drawingLayers(f)
	case ".zip":
		if a, err := openArchive(f.Data); err == nil && isGeodatabase(a) {
			return foreignLayers(geodatabase, f)
		}
	}
	if kind, is := findForeign(f.Name); is {
		return foreignLayers(kind, f)
	}
	return nil, nil
}

// chooseLayers finds the wanted layers among those of a file; without a word there
// may be only one.
func chooseLayers(names, wanted []string) ([]string, error) {
	const mostListed = 20
	listed := quote(strings.Join(names[:min(len(names), mostListed)], ", "))
	if len(names) <= mostListed {
		var each []string
		for _, n := range names {
			each = append(each, quote(n))
		}
		listed = strings.Join(each, ", ")
	} else {
		listed += fmt.Sprintf(" and %d more", len(names)-mostListed)
	}
	switch {
	case len(names) == 0:
		return nil, refuse(geojson.RuleEmpty, "file", "no layer with shapes in it", "export the shapes again")
	case slices.Equal(wanted, []string{"*"}) || len(wanted) == 0 && len(names) == 1:
		return names, nil
	case len(wanted) == 0:
		return nil, refuse(RuleLayer, "file", fmt.Sprintf("it has %d layers: %s", len(names), listed),
			`state which is meant: layer = "NAME", a list of names, or "*" for all of them`)
	}
	var chosen []string
	for _, w := range wanted {
		i := slices.Index(names, w)
		if i < 0 {
			i = slices.IndexFunc(names, func(n string) bool { return strings.EqualFold(n, w) })
		}
		if i < 0 {
			return nil, refuse(RuleLayer, "file", fmt.Sprintf("there is no layer %s; there are %s", quote(w), listed), "fix the name")
		}
		chosen = append(chosen, names[i])
	}
	return chosen, nil
}

// project turns a geometry of the file into degrees.
func (b *builder) project(g orb.Geometry, place string) (orb.Geometry, error) {
	var first error
	g = project.Geometry(g, func(p orb.Point) orb.Point {
		q, err := b.degrees(p, place)
		if err != nil && first == nil {
			first = err
		}
		return q
	})
	return g, first
}

// geopackage reads the chosen layers of a GeoPackage.
func (b *builder) geopackage(f File) (err error) {
	b.info.Format = "GeoPackage"
	pkg, layers, err := openGeopackage(f)
	if err != nil {
		return err
	}
	defer pkg.Close() //nolint:errcheck // a copy in the folder for temporary files
	b.info.Layers, err = chooseLayers(namesOf(layers), f.How.Layers)
	if err != nil {
		return err
	}
	for _, l := range layers {
		if !slices.Contains(b.info.Layers, l.Name) {
			continue
		}
		before := b.info.Datum
		if err := b.geopackageLayer(f, pkg, l); err != nil {
			return err
		}
		if before != "" && before != b.info.Datum {
			return refuse(RuleProjection, "file", fmt.Sprintf("its layers are on %s and on %s", before, b.info.Datum), "read them one by one")
		}
	}
	return nil
}

func openGeopackage(f File) (*geopackage.File, []geopackage.Layer, error) {
	if log, err := sideFile(f, ".gpkg-wal"); err != nil || len(log) > 0 {
		return nil, nil, refuse(RuleSide, ".gpkg-wal", "a program has the GeoPackage open, and what it wrote last is not in the file yet",
			"close the file there, then copy it")
	}
	pkg, err := geopackage.Open(f.Data)
	if err != nil {
		return nil, nil, err
	}
	layers, err := pkg.Layers()
	if err != nil {
		pkg.Close() //nolint:errcheck // the first error is the one to tell
		return nil, nil, err
	}
	return pkg, layers, nil
}

func namesOf(layers []geopackage.Layer) (all []string) {
	for _, l := range layers {
		all = append(all, l.Name)
	}
	return all
}

// systemOf is what a layer says of its system; nil when it says nothing.
func systemOf(l geopackage.Layer, place string) (*crs.System, error) {
	text := strings.TrimSpace(l.WKT)
	switch {
	case l.EPSG != 0:
		s, err := crs.ByCode(l.EPSG)
		if err != nil { // one with heights has a number of its own
			if byText, _, wrong := crs.ByWKT(text); wrong == nil {
				return &byText, nil
			}
		}
		return &s, within(place, err)
	case text == "" || strings.EqualFold(text, "undefined"):
		return nil, nil
	}
	s, _, err := ownSystem(text, place)
	return &s, err
}

func (b *builder) geopackageLayer(f File, pkg *geopackage.File, l geopackage.Layer) error {
	place := "layer " + quote(l.Name)
	if err := pkg.Describe(&l); err != nil {
		return err
	}
	own, err := systemOf(l, place)
	if err != nil {
		return err
	}
	if _, err := b.settle(f, own, place); err != nil {
		return err
	}
	empty, curved := 0, 0
	err = pkg.Features(l, func(one geopackage.Feature) error {
		switch {
		case one.Curved:
			curved++
			return nil
		case one.Shape == nil:
			empty++
			return nil
		}
		g, err := b.project(one.Shape, one.Place)
		if err != nil {
			return err
		}
		if len(b.info.Layers) > 1 && one.Properties["layer"] == nil {
			one.Properties["layer"] = l.Name
		}
		return b.add(geojson.Feature{Geometry: g, Properties: one.Properties, Place: one.Place})
	})
	b.noteLeftOut(empty, "feature", "without a shape")
	b.noteLeftOut(curved, "feature", "its shape has curves, which are not read; export it with straight segments")
	return err
}

func geopackageLayers(f File) (all []Layer, err error) {
	pkg, layers, err := openGeopackage(f)
	if err != nil {
		return nil, err
	}
	defer pkg.Close() //nolint:errcheck // a copy in the folder for temporary files
	for _, l := range layers {
		if err := pkg.Describe(&l); err != nil {
			return nil, err
		}
		one := Layer{Name: l.Name, Shapes: strings.ToLower(l.Shapes), Fields: l.Fields}
		switch s, err := systemOf(l, ""); {
		case err != nil:
			one.System = err.Error()
		case s != nil:
			one.System = s.Text()
		}
		all = append(all, one)
	}
	return all, nil
}
