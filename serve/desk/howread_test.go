package desk

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"groundsheet/pack/job"
	"groundsheet/pack/record/intake"
)

// drawingOf is a DXF drawing of closed outlines, each on a layer; a drawing never says
// which coordinate system its numbers are in.
func drawingOf(layers ...string) string {
	var b strings.Builder
	b.WriteString("0\nSECTION\n2\nENTITIES\n")
	for i, layer := range layers {
		fmt.Fprintf(&b, "0\nLWPOLYLINE\n8\n%s\n90\n4\n70\n1\n", layer)
		for _, p := range [][2]int{{0, 0}, {30, 0}, {30, 20}, {0, 20}} {
			fmt.Fprintf(&b, "10\n%d\n20\n%d\n", 500000+p[0]+100*i, 4427757+p[1])
		}
	}
	b.WriteString("0\nENDSEC\n0\nEOF\n")
	return b.String()
}

// TestFileThatDoesNotSayHow: which layer and which system is asked, one after the other,
// and what was answered is written into the job.
func TestFileThatDoesNotSayHow(t *testing.T) {
	o := open(t)
	send := func(query, name, data string) (read readDocument) {
		t.Helper()
		if status, body := o.sendWith(query, []string{name}, []string{data}, &read); status != http.StatusOK {
			t.Fatalf("%s: %d %s", query, status, body)
		}
		return read
	}
	two := drawingOf("PIT", "FRAME")
	read := send("&at=-105,40", "pit.dxf", two)
	if read.Asks == nil || read.Asks.Key != "layer" || len(read.Asks.Choices) != 3 || read.Asks.Choices[2].Value != "*" {
		t.Fatalf("%+v", read.Asks)
	}
	read = send("&at=-105,40&layer=PIT", "pit.dxf", two)
	if read.Asks == nil || read.Asks.Key != "epsg" || !slices.ContainsFunc(read.Asks.Choices, func(c intake.Choice) bool { return c.Value == "26913" }) {
		t.Fatalf("%+v", read.Asks)
	}
	if far := send("&at=-90,40&layer=PIT", "pit.dxf", two); far.Asks == nil || len(far.Asks.Choices) != 0 {
		t.Errorf("systems of another place: %+v", far.Asks)
	}
	read = send("&at=-105,40&layer=PIT&epsg=26913", "pit.dxf", two)
	if read.Asks != nil || len(read.Outlines) != 1 || read.Outlines[0].Rings[0][0][0] > -104.9 {
		t.Fatalf("%+v", read)
	}
	if status, body := o.sendWith("&layer=PIT&epsg=none", []string{"pit.dxf"}, []string{two}, &read); status != http.StatusBadRequest {
		t.Errorf("%d %s", status, body)
	}
	shape := read.Outlines[0]
	shape.From = "drop[0]"
	var made jobDocument
	o.post("/api/jobs", fields{"place": o.dir, "name": "Elm St 12", "units": "us", "margin": "50ft", "source": "practice", "shapes": []any{shape}, "dropped": []any{fields{"file": read.File, "along": false}}}, &made)
	text, _ := os.ReadFile(filepath.Join(made.Folder, job.FileName))
	if !strings.Contains(string(text), "epsg = 26913") || !strings.Contains(string(text), `layer = "PIT"`) || made.Problem != nil {
		t.Errorf("%s, %+v", text, made.Problem)
	}
}

// TestAreaFileGone: a job whose area is not there is opened and drawn anew.
func TestAreaFileGone(t *testing.T) {
	o := open(t)
	dir, id := o.job("gone", "name = \"Gone\"\narea = [\"pit.geojson\"]   # from the city\nmargin = \"50ft\"\n\n[[base]]\nsource = \"practice\"\n")
	var doc jobDocument
	if o.get("/api/jobs/"+id, &doc); doc.Problem == nil || !strings.Contains(doc.Problem.Remedy, "draw the area anew") {
		t.Fatalf("%+v", doc.Problem)
	}
	var drawn shapesDocument
	if o.get("/api/jobs/"+id+"/area", &drawn); len(drawn.Shapes) != 0 || len(drawn.Notes) != 1 || !strings.Contains(drawn.Notes[0], "pit.geojson") {
		t.Fatalf("%+v", drawn)
	}
	ring := [][2]float64{{-140.5, 40.5}, {-140.499, 40.5}, {-140.499, 40.501}, {-140.5, 40.5}}
	o.post("/api/jobs/"+id+"/area", fields{"etag": drawn.Etag, "shapes": []any{fields{"kind": "polygon", "rings": []any{ring}}}, "dropped": []any{}}, &doc)
	if doc.Problem != nil || doc.Area == "" {
		t.Errorf("%+v", doc.Problem)
	}
	if text, _ := os.ReadFile(filepath.Join(dir, job.FileName)); !strings.Contains(string(text), `area = ["area.geojson"]`) {
		t.Errorf("%s", text)
	}
}
