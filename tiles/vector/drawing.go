package vector

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/dxf"
	"groundsheet/tiles/geojson"
)

// smooth is how far, in meters on the ground, a straight piece may lie from the
// curve of a drawing that it stands for.
const smooth = 0.0005

// drawing reads the chosen layers of a DXF. Its coordinate system must be stated:
// a drawing has no word for it.
func (b *builder) drawing(f File) error {
	b.info.Format = "DXF"
	if f.How.EPSG == 0 {
		return refuse(RuleProjection, "epsg", "a DXF cannot say what its numbers mean, and no coordinate system is stated",
			"ask who drew it (a drawing moved to a grid of its own cannot be placed), and state it: epsg = 2231, for instance, is NAD83 / Colorado North in US survey feet")
	}
	if _, err := b.settle(f, nil, "epsg"); err != nil {
		return err
	}
	layers, err := drawnLayers(f)
	if err != nil {
		return err
	}
	var names []string
	for _, l := range layers {
		names = append(names, l.Name)
	}
	if b.info.Layers, err = chooseLayers(names, f.How.Layers); err != nil {
		return err
	}
	for _, l := range layers {
		if l.Off && slices.Contains(b.info.Layers, l.Name) {
			b.note("The layer %s is switched off in the drawing; it was read.", quote(l.Name))
		}
	}
	o, err := drawingOptions(f)
	if err != nil {
		return err
	}
	o.Layers, o.Tolerance = b.info.Layers, smooth/b.system.Unit.Meters
	if b.system.Degrees() {
		o.Tolerance = smooth / 111_320
	}
	d, err := dxf.Read(f.Data, o)
	if err != nil {
		return err
	}
	b.noteUnits(d.Units)
	for _, name := range slices.Sorted(maps.Keys(d.LeftOut)) {
		b.noteLeftOut(d.LeftOut[name], name, "not read here")
	}
	for _, e := range d.Entities {
		if err := b.drawn(e); err != nil {
			return err
		}
	}
	return nil
}

// drawingOptions read the texts of a drawing as it says, or as is stated.
func drawingOptions(f File) (dxf.Options, error) {
	stated, ok := charset(f.How.Encoding)
	if !ok && f.How.Encoding != "" {
		return dxf.Options{}, unknownEncoding(f)
	}
	return dxf.Options{Text: func(codePage string, raw []byte) string {
		from := stated
		if f.How.Encoding == "" && codePage != "" {
			if from, ok = charset(strings.ReplaceAll(codePage, "_", "")); !ok {
				from, _ = charset("windows-1252")
			}
		}
		return decode(from, raw)
	}}, nil
}

// drawnLayers lists the layers with something drawn on them.
func drawnLayers(f File) ([]dxf.Layer, error) {
	o, err := drawingOptions(f)
	if err != nil {
		return nil, err
	}
	o.Layers = []string{}
	d, err := dxf.Read(f.Data, o)
	return d.Layers, err
}

func drawingLayers(f File) (all []Layer, err error) {
	layers, err := drawnLayers(f)
	for _, l := range layers {
		one := Layer{Name: l.Name, Shapes: fmt.Sprintf("%d drawn", l.Entities), Fields: []string{"layer", "text", "block"}}
		if l.Off {
			one.Shapes += ", switched off in the drawing"
		}
		all = append(all, one)
	}
	return all, err
}

// drawn adds one entity. Of a dig area closed lines are outlines.
func (b *builder) drawn(e dxf.Entity) error {
	g := e.Geometry
	if line, ok := g.(orb.LineString); ok && b.want == Areas && len(line) > 3 && (e.Closed || line[0] == line[len(line)-1]) {
		g = orb.Polygon{orb.Ring(line)}
	}
	g, err := b.project(g, e.Place)
	if err != nil {
		return err
	}
	properties := map[string]any{"layer": e.Layer}
	for tag, value := range e.Values {
		if value != "" {
			properties[tag] = value
		}
	}
	if e.Text != "" {
		properties["text"] = e.Text
	}
	if e.Block != "" {
		properties["block"] = e.Block
	}
	return b.add(geojson.Feature{Geometry: g, Properties: properties, Place: e.Place})
}

// noteUnits tells a drawing whose own unit is not that of its system. Inches are
// what programs write when nobody chose, and feet do not tell which foot.
func (b *builder) noteUnits(units int) {
	own := map[int]struct {
		name   string
		meters float64
	}{2: {"feet", 0.3048}, 4: {"millimeters", 0.001}, 5: {"centimeters", 0.01}, 6: {"meters", 1}, 21: {"US survey feet", 1200.0 / 3937}}[units]
	if own.meters != 0 && b.system.Unit.Meters != 0 && math.Abs(own.meters/b.system.Unit.Meters-1) > 1e-4 {
		b.note("The drawing says that it counts in %s, and its coordinate system in %s; its numbers were taken in %s.", own.name, b.system.Unit.Name, b.system.Unit.Name)
	}
}
