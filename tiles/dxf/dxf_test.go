package dxf

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
)

// drawing writes groups: codes and values take turns, divided by blanks; "_" is a
// blank in a value.
func drawing(blocks, entities string) []byte {
	text := "0 SECTION 2 HEADER 9 $ACADVER 1 AC1015 9 $DWGCODEPAGE 3 ANSI_1252 9 $INSUNITS 70 2 0 ENDSEC " +
		"0 SECTION 2 TABLES 0 TABLE 2 LAYER 0 LAYER 2 OLD 70 1 62 7 0 LAYER 2 GAS 70 0 62 2 0 ENDTAB 0 ENDSEC " +
		"0 SECTION 2 BLOCKS " + blocks + " 0 ENDSEC 0 SECTION 2 ENTITIES " + entities + " 0 ENDSEC 0 EOF"
	fields := strings.Fields(text)
	for i, f := range fields {
		fields[i] = strings.ReplaceAll(f, "_", " ")
	}
	return []byte(strings.Replace(strings.Join(fields, "\r\n"), "ANSI 1252", "ANSI_1252", 1) + "\r\n")
}

func read(t *testing.T, blocks, entities string) Drawing {
	t.Helper()
	d, err := Read(drawing(blocks, entities), Options{Tolerance: 0.001})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

const valve = "0 BLOCK 8 0 2 VALVE 70 0 10 1 20 1 0 LINE 8 0 10 1 20 1 11 2 21 1 0 CIRCLE 8 MARKS 10 1 20 1 40 0.5 0 ENDBLK "

func TestEntities(t *testing.T) {
	for name, test := range map[string]struct {
		blocks, entities string
		want             string // kinds, layers and boxes
	}{
		"line":                {"", "0 LINE 8 GAS 10 1 20 2 30 5 11 3 21 4", "LineString GAS 1 2 3 4"},
		"point":               {"", "0 POINT 8 GAS 10 1 20 2", "Point GAS 1 2 1 2"},
		"polyline":            {"", "0 LWPOLYLINE 8 GAS 90 3 70 0 10 0 20 0 10 5 20 0 10 5 20 5", "LineString GAS 0 0 5 5"},
		"half a circle":       {"", "0 LWPOLYLINE 8 GAS 90 2 70 0 10 0 20 0 42 1 10 2 20 0", "LineString GAS 0 -1 2 0"},
		"the other half":      {"", "0 LWPOLYLINE 8 GAS 90 2 70 0 10 0 20 0 42 -1 10 2 20 0", "LineString GAS 0 0 2 1"},
		"closed with bulges":  {"", "0 LWPOLYLINE 8 GAS 90 2 70 1 10 0 20 0 42 1 10 2 20 0 42 1", "LineString GAS 0 -1 2 1 closed"},
		"older polyline":      {"", "0 POLYLINE 8 GAS 66 1 70 1 0 VERTEX 8 GAS 10 0 20 0 0 VERTEX 8 GAS 10 4 20 0 0 VERTEX 8 GAS 10 4 20 3 0 SEQEND 8 GAS", "LineString GAS 0 0 4 3 closed"},
		"arc":                 {"", "0 ARC 8 GAS 10 0 20 0 40 2 50 270 51 90", "LineString GAS 0 -2 2 2"},
		"circle":              {"", "0 CIRCLE 8 GAS 10 1 20 1 40 2", "LineString GAS -1 -1 3 3 closed"},
		"circle seen below":   {"", "0 CIRCLE 8 GAS 10 1 20 1 40 2 210 0 220 0 230 -1", "LineString GAS -3 -1 1 3 closed"},
		"circle on its side":  {"", "0 CIRCLE 8 GAS 10 1 20 1 40 2 210 1 220 0 230 0", "left out: CIRCLE in a tilted plane"},
		"ellipse":             {"", "0 ELLIPSE 8 GAS 10 0 20 0 11 4 21 0 40 0.5 41 0 42 6.283185307179586", "LineString GAS -4 -2 4 2 closed"},
		"text":                {"", `0 TEXT 8 GAS 10 1 20 2 40 1 1 3_ft_%%c6_\U+00B0`, "Point GAS 1 2 1 2 3 ft ⌀6 °"},
		"long text":           {"", `0 MTEXT 8 GAS 10 1 20 2 1 {\fArial|b0;Depth}\P4_ft`, "Point GAS 1 2 1 2 Depth 4 ft"},
		"hatch":               {"", "0 HATCH 8 GAS 10 0 20 0 30 0 70 1 91 2 92 3 72 0 73 1 93 4 10 0 20 0 10 9 20 0 10 9 20 9 10 0 20 9 97 0 92 3 72 0 73 1 93 4 10 1 20 1 10 2 20 1 10 2 20 2 10 1 20 2 97 0", "Polygon GAS 0 0 9 9"},
		"hatch of edges":      {"", "0 HATCH 8 GAS 10 0 20 0 91 1 92 1 93 2 72 1 10 -1 20 0 11 1 21 0 72 2 10 0 20 0 40 1 50 0 51 180 73 1 97 0", "Polygon GAS -1 0 1 1"},
		"hatch of a spline":   {"", "0 HATCH 8 GAS 10 0 20 0 91 1 92 1 93 1 72 4 94 3 97 0", "left out: HATCH with curves"},
		"spline":              {"", "0 SPLINE 8 GAS 10 0 20 0", "left out: SPLINE"},
		"paper":               {"", "0 LINE 8 GAS 67 1 10 1 20 2 11 3 21 4", "left out: entity of paper space"},
		"mesh":                {"", "0 POLYLINE 8 GAS 70 64 0 VERTEX 8 GAS 10 0 20 0 0 SEQEND", "left out: mesh"},
		"block":               {valve, "0 INSERT 8 GAS 2 VALVE 10 10 20 20 41 2 42 2 50 90", "LineString GAS 10 20 10 22 VALVE; LineString MARKS 9 19 11 21 closed VALVE"},
		"block with a value":  {valve, "0 INSERT 8 GAS 2 VALVE 10 10 20 20 66 1 0 ATTRIB 8 GAS 2 ID 1 V-7 0 SEQEND", "LineString GAS 10 20 11 20 VALVE ID=V-7; LineString MARKS 9.5 19.5 10.5 20.5 closed VALVE ID=V-7"},
		"block in a block":    {valve + "0 BLOCK 2 PAIR 10 0 20 0 0 INSERT 8 0 2 VALVE 10 5 20 0 0 ENDBLK", "0 INSERT 8 GAS 2 PAIR 10 100 20 0 50 180", "LineString GAS 94 0 95 0 VALVE; LineString MARKS 94.5 -0.5 95.5 0.5 closed VALVE"},
		"rows of blocks":      {"0 BLOCK 2 P 10 0 20 0 0 POINT 8 0 10 0 20 0 0 ENDBLK", "0 INSERT 8 GAS 2 P 10 0 20 0 70 2 71 1 44 5", "Point GAS 0 0 0 0 P; Point GAS 5 0 5 0 P"},
		"mirrored block":      {valve, "0 INSERT 8 GAS 2 VALVE 10 10 20 20 41 -1", "LineString GAS 9 20 10 20 VALVE; LineString MARKS 9.5 19.5 10.5 20.5 closed VALVE"},
		"no such block":       {"", "0 INSERT 8 GAS 2 VALVE 10 10 20 20", "left out: INSERT of a block that is not there"},
		"a line of no length": {"", "0 LINE 8 GAS 10 1 20 2 11 1 21 2", "left out: line without a length"},
	} {
		t.Run(name, func(t *testing.T) {
			d := read(t, test.blocks, test.entities)
			var all []string
			for _, e := range d.Entities {
				all = append(all, said(e))
			}
			for what := range d.LeftOut {
				all = append(all, "left out: "+what)
			}
			if got := strings.Join(all, "; "); got != test.want {
				t.Errorf("got  %s\nwant %s", got, test.want)
			}
		})
	}
}

func said(e Entity) string {
	b := e.Geometry.Bound()
	text := e.Geometry.GeoJSONType() + " " + e.Layer
	for _, v := range []float64{b.Min[0], b.Min[1], b.Max[0], b.Max[1]} {
		text += fmt.Sprintf(" %v", math.Round(v*100)/100+0)
	}
	if e.Closed {
		text += " closed"
	}
	for _, s := range []string{e.Text, e.Block} {
		if s != "" {
			text += " " + s
		}
	}
	for k, v := range e.Values {
		text += " " + k + "=" + v
	}
	return text
}

// No straight piece is farther from its arc than was asked, and every corner is on it.
func TestArcsAreSmooth(t *testing.T) {
	for _, radius := range []float64{0.5, 30, 5000} {
		for _, bulge := range []float64{0.01, 0.5, 1, -3} {
			angle := 4 * math.Atan(bulge)
			chord := 2 * radius * math.Abs(math.Sin(angle/2))
			line := flatten([]vertex{{0, 0, bulge}, {chord, 0, 0}}, false, 0.001, 1_000_000)
			h := chord / 2 / math.Tan(angle/2)
			center := orb.Point{chord / 2, h}
			for i, p := range line {
				if off := math.Abs(math.Hypot(p[0]-center[0], p[1]-center[1]) - radius); off > 1e-6 {
					t.Fatalf("radius %v, bulge %v: corner %d is %v off", radius, bulge, i, off)
				}
				if i == 0 {
					continue
				}
				middle := orb.Point{(p[0] + line[i-1][0]) / 2, (p[1] + line[i-1][1]) / 2}
				if off := radius - math.Hypot(middle[0]-center[0], middle[1]-center[1]); off > 0.00101 || off < -1e-6 {
					t.Fatalf("radius %v, bulge %v: piece %d is %v off", radius, bulge, i, off)
				}
			}
		}
	}
}

func TestLayers(t *testing.T) {
	d := read(t, "", "0 LINE 8 GAS 10 1 20 2 11 3 21 4 0 LINE 8 OLD 10 1 20 2 11 3 21 4 0 LINE 8 gas 10 1 20 2 11 9 21 4")
	if len(d.Layers) != 3 || d.Layers[0].Off || !d.Layers[1].Off || d.Layers[1].Name != "OLD" || d.Units != 2 {
		t.Errorf("%+v, units %d", d.Layers, d.Units)
	}
	one, err := Read(drawing("", "0 LINE 8 GAS 10 1 20 2 11 3 21 4 0 LINE 8 OLD 10 1 20 2 11 3 21 4"), Options{Layers: []string{"gas"}})
	if err != nil || len(one.Entities) != 1 || one.Entities[0].Layer != "GAS" {
		t.Errorf("%+v %v", one.Entities, err)
	}
}

func TestRefused(t *testing.T) {
	loop := "0 BLOCK 2 A 10 0 20 0 0 INSERT 8 0 2 B 10 0 20 0 0 ENDBLK 0 BLOCK 2 B 10 0 20 0 0 INSERT 8 0 2 A 10 0 20 0 0 ENDBLK"
	deep, many := "", ""
	for i := range 20 {
		deep += fmt.Sprintf("0 BLOCK 2 D%d 10 0 20 0 0 INSERT 8 0 2 D%d 10 0 20 0 0 ENDBLK ", i, i+1)
	}
	for i := range 10 {
		many += fmt.Sprintf("0 BLOCK 2 M%d 10 0 20 0 0 INSERT 8 0 2 M%d 10 0 20 0 70 20 71 20 44 1 45 1 0 ENDBLK ", i, i+1)
	}
	many += "0 BLOCK 2 M10 10 0 20 0 0 POINT 8 0 10 0 20 0 0 ENDBLK"
	var layers strings.Builder
	for i := range mostLayers + 1 {
		fmt.Fprintf(&layers, "0 POINT 8 L%d 10 0 20 0 ", i)
	}
	whole := drawing(valve, "0 INSERT 8 GAS 2 VALVE 10 10 20 20")
	for name, test := range map[string]struct {
		data []byte
		want string
	}{
		"a loop of blocks":    {drawing(loop, "0 INSERT 8 GAS 2 A 10 0 20 0"), "stands in itself"},
		"a block in itself":   {drawing("0 BLOCK 2 A 10 0 20 0 0 INSERT 8 0 2 A 10 0 20 0 0 ENDBLK", "0 INSERT 8 GAS 2 A 10 0 20 0"), "stands in itself"},
		"blocks too deep":     {drawing(deep, "0 INSERT 8 GAS 2 D0 10 0 20 0"), "more than 16 deep"},
		"blocks without end":  {drawing(many, "0 INSERT 8 GAS 2 M0 10 0 20 0"), "more than 1,000,000 positions"},
		"rows without end":    {drawing(valve, "0 INSERT 8 GAS 2 VALVE 10 0 20 0 70 30000 71 30000"), "more than 1,000,000 positions"},
		"many layers":         {drawing("", layers.String()), "more than 10000 layers"},
		"cut off":             {whole[:len(whole)-20], "cut off"},
		"cut off in a group":  {[]byte("0\nSECTION\n2"), "cut off"},
		"binary":              {[]byte("AutoCAD Binary DXF\r\n\x1a\x00"), "binary DXF"},
		"no entities":         {[]byte("0\nSECTION\n2\nHEADER\n0\nENDSEC\n0\nEOF\n"), "no section of entities"},
		"not a drawing":       {[]byte("name,depth\n1,2\n"), "not a group code"},
		"not a number":        {drawing("", "0 LINE 8 GAS 10 one 20 2 11 3 21 4"), "finite"},
		"a polyline unending": {drawing("", "0 POLYLINE 8 GAS 70 0 0 LINE 8 GAS 10 0 20 0 11 1 21 1"), "no end"},
	} {
		t.Run(name, func(t *testing.T) {
			d, err := Read(test.data, Options{Tolerance: 0.001})
			var f *fault.Fault
			if !errors.As(err, &f) || !strings.Contains(f.Detail, test.want) || f.Place == "" || f.Remedy == "" || d.Entities != nil {
				t.Errorf("%d entities, %v", len(d.Entities), err)
			}
		})
	}
}

// Cut off anywhere it is refused, or nothing was missing.
func TestCutOffAnywhere(t *testing.T) {
	whole := drawing(valve, "0 INSERT 8 GAS 2 VALVE 10 10 20 20 0 LINE 8 GAS 10 1 20 2 11 3 21 4")
	for n := range len(whole) - len("\r\n0\r\nEOF\r\n") {
		if _, err := Read(whole[:n], Options{}); err == nil {
			t.Fatalf("%d of %d bytes were read", n, len(whole))
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add(drawing(valve, "0 INSERT 8 GAS 2 VALVE 10 10 20 20 41 2 42 2 50 90 70 2 71 2 44 1 45 1"))
	f.Add(drawing("", "0 LWPOLYLINE 8 GAS 90 2 70 1 10 0 20 0 42 1 10 2 20 0 42 1 0 ARC 8 GAS 10 0 20 0 40 2 50 270 51 90"))
	f.Add(drawing("", "0 HATCH 8 GAS 10 0 20 0 91 1 92 1 93 2 72 1 10 -1 20 0 11 1 21 0 72 2 10 0 20 0 40 1 50 0 51 180 73 1 97 0"))
	f.Add(drawing("", `0 MTEXT 8 GAS 10 1 20 2 1 {\fArial|b0;Depth}\P4_ft 0 ELLIPSE 8 GAS 10 0 20 0 11 4 21 0 40 0.5 0 POLYLINE 8 GAS 70 1 0 VERTEX 10 0 20 0 0 SEQEND`))
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := Read(data, Options{Tolerance: 0.001})
		if err != nil {
			var bad *fault.Fault
			if !errors.As(err, &bad) || bad.Place == "" || bad.Remedy == "" {
				t.Fatal(err)
			}
			return
		}
		n := 0
		for _, e := range d.Entities {
			b := e.Geometry.Bound()
			if !finite(b.Min) || !finite(b.Max) {
				t.Fatalf("%+v", e)
			}
			n++
		}
		if n > mostPositions {
			t.Fatalf("%d entities", n)
		}
	})
}
