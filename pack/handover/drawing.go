package handover

import (
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/dxf"
	"groundsheet/tiles/words"
)

// colors are those of the color code in the AutoCAD color index, as near as it has
// them: red, yellow, orange, blue, green, purple, pink, white.
var colors = map[string]int{"electric": 1, "gas": 2, "communication": 30, "water": 5, "sewer": 3, "reclaimed": 200, "survey": 221, "proposed": 7}

// what is the last part of a layer's name, by the kind of a mark.
var what = map[string]string{
	"reading": "READING", "line": "LINE", "area": "AREA", "nothing found": "NOTHING-FOUND", "unlocatable": "UNLOCATABLE",
	record.TestHole: "TEST-HOLE", "surface feature": "SURFACE",
}

// layer is the layer of a find; its texts are on one of their own.
func (f Find) layer() string {
	utility := strings.ToUpper(f.Utility)
	if utility == "COMMUNICATION" {
		utility = "COMM" // a name has 31 characters
	}
	switch {
	case f.Source == Recorded:
		return "RECORD-" + utility
	case f.Source == WorkedOut:
		return "FOUND-" + utility + "-JOINED"
	}
	kind := what[f.Kind]
	if kind == "" {
		kind = "OTHER"
	}
	return "FOUND-" + utility + "-" + kind
}

// lettering is the height of texts on the ground, in meters.
const lettering = 0.25

// writeDXF draws finds by utility and kind, with their depths as texts. What has no
// place is left out, and so is every other field.
func writeDXF(title string, finds []Find, g Ground) ([]byte, error) {
	d := dxf.Drawn{}
	height := lettering / g.system.Unit.Meters
	seen := map[string]bool{}
	layer := func(name, utility string, dashed bool) string {
		if !seen[name] {
			seen[name] = true
			d.Styles = append(d.Styles, dxf.Style{Name: name, Color: max(1, colors[utility]), Dashed: dashed})
		}
		return name
	}
	whole := orb.Bound{}
	for _, f := range finds {
		placed, err := g.place(f)
		if err != nil {
			return nil, err
		}
		if placed == nil {
			continue
		}
		if whole == (orb.Bound{}) {
			whole = placed.Bound()
		}
		whole = whole.Union(placed.Bound())
		name := layer(f.layer(), f.Utility, f.Source != FieldBook)
		d.Shapes = append(d.Shapes, dxf.Shape{Layer: name, Geometry: placed})
		if text := f.drawn(); text != "" {
			at := placed.Bound().Center()
			if p, ok := placed.(orb.Point); ok {
				at = orb.Point{p[0] + height/2, p[1] + height/2}
			}
			d.Shapes = append(d.Shapes, dxf.Shape{Layer: layer(f.layer()+"-T", f.Utility, false), Geometry: at, Text: text, Height: height})
		}
	}
	layer("READ-FIRST", "", false)
	for i, line := range []string{title, g.Text(), words.Say("caution.always"), words.Say("handover.dxf_lost")} {
		at := orb.Point{whole.Min[0], whole.Min[1] - height*2*float64(i+2)}
		d.Shapes = append(d.Shapes, dxf.Shape{Layer: "READ-FIRST", Geometry: at, Text: short(line, 200), Height: height})
	}
	return d.Write()
}

// drawn is the text beside a find.
func (f Find) drawn() string {
	parts := []string{letter(f.Utility)}
	depth := f.depth()
	switch {
	case f.Kind == "nothing found":
		parts = append(parts, words.Say("handover.drawn_nothing"))
	case depth != "":
		parts = append(parts, depth)
	case f.text("label") == "":
		return ""
	}
	if label := f.text("label"); label != "" {
		parts = append(parts, label)
	}
	if level := f.text("quality_level"); level != "" {
		parts = append(parts, words.Say("handover.drawn_level", "level", level))
	}
	return short(strings.Join(parts, " "), 60)
}
