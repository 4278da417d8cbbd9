package intake

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/vector"
)

// PROJ 9.1.1: echo "40.0123 -105.0456" | cs2cs -f %.2f EPSG:4269 EPSG:2231, and so on
const statePlane = "No,X,Y,Depth (ft)\n1,3127278.27,1247653.51,3.5\n2,3127306.10,1247690.08,3.6\n3,3127250.64,1247580.51,3.7\n4,slip,1247580.51,3.7\n"

func TestStatePlaneIsAskedNeverGuessed(t *testing.T) {
	p := propose(t, "points.csv", statePlane)
	wants(t, p, "epsg= (unknown)!", "column.easting=X (fits)", "column.northing=Y (fits)")
	var codes []string
	for _, c := range p.item("epsg").Choices {
		codes = append(codes, c.Value)
	}
	if all := strings.Join(codes, " "); !strings.Contains(all, "2231") || !strings.Contains(all, "6430") || strings.Contains(all, "26913") {
		t.Errorf("asked are %s", all)
	}
	p = propose(t, "points.csv", statePlane, "epsg", "2231", "utility", "water", "unread", "leave out")
	m, ok := p.Meta()
	if !ok || m.EPSG != 2231 || m.Datum != "" || m.UTMZone != "" {
		t.Fatalf("%v %+v %s %s", ok, m, open(p), p.Problem)
	}
	wants(t, p, "datum=NAD83 (answered)")
	got := p.Shapes[0].Geometry.(orb.Point)
	if d := math.Hypot(got[0]+105.0456, got[1]-40.0123); d > 1e-7 {
		t.Errorf("%v is %g degrees off", got, d)
	}
	wants(t, propose(t, "points.csv", statePlane, "epsg", "one"), "epsg= (unknown)!")
	wants(t, propose(t, "points.csv", statePlane, "epsg", "27700"), "epsg= (unknown)!")
}

func sample(t *testing.T, name string) vector.File {
	t.Helper()
	f, err := vector.Open(filepath.Join("..", "..", "..", "tiles", "vector", "testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestDrawingWithoutASystem(t *testing.T) {
	f := sample(t, "marks-2231.dxf")
	p := Propose(f, site(), nil)
	wants(t, p, "epsg= (unknown)!")
	if n := len(p.item("epsg").Choices); n < 2 || n > 8 {
		t.Errorf("%d systems are asked about", n)
	}
	p = Propose(f, site(), Answers{"epsg": "2231", "utility": "survey"})
	m, ok := p.Meta()
	if !ok || m.EPSG != 2231 || len(p.Shapes) != 3 {
		t.Errorf("%v %+v %s %d shapes", ok, m, p.Problem, len(p.Shapes))
	}
	bare := sample(t, "site-26913.shp")
	bare.Beside = nil // no .prj, no .dbf
	p = Propose(bare, site(), nil)
	wants(t, p, "epsg= (unknown)!")
	var codes []string
	for _, c := range p.item("epsg").Choices {
		codes = append(codes, c.Value)
	}
	if !strings.Contains(strings.Join(codes, " "), "26913") {
		t.Errorf("asked are %v", codes)
	}
}

func TestLayersAreAsked(t *testing.T) {
	f := sample(t, "two.gpkg")
	p := Propose(f, site(), nil)
	wants(t, p, "layer= (unknown)!")
	if _, ok := p.Meta(); ok {
		t.Error("taken in without a layer")
	}
	p = Propose(f, site(), Answers{"layer": "routes", "utility": "water"})
	m, ok := p.Meta()
	if !ok || len(m.Layers) != 1 || m.Layers[0] != "routes" || len(p.Shapes) != 2 {
		t.Errorf("%v %+v %s", ok, m, p.Problem)
	}
	wants(t, p, "datum=NAD83(2011) (stated)")
}

func TestTextInAnOldEncoding(t *testing.T) {
	const text = "lat,lon,note\n40.0123,-105.0456,caf\x82\n"
	p := propose(t, "w.csv", text)
	wants(t, p, "encoding=windows-1252 (fits)")
	p = propose(t, "w.csv", text, "encoding", "CP437", "utility", "water", "datum", "WGS 84")
	if m, ok := p.Meta(); !ok || m.Encoding != "CP437" || p.First[0].Cells[2] != "café" || p.Shapes[0].Properties["note"] != "café" {
		t.Errorf("%v %+v %v", ok, m, p.First)
	}
}
