package desk

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/pack/job"
)

// post sends a change and reads the answer into out.
func (o *opened) post(path string, in, out any) {
	o.t.Helper()
	status, body := o.ask(path, in)
	if status != http.StatusOK {
		o.t.Fatalf("%s: %d %s", path, status, body)
	}
	if err := json.Unmarshal(body, out); err != nil {
		o.t.Fatalf("%s: %v in %s", path, err, body)
	}
}

func (o *opened) refused(path string, in any, status int, says string) {
	o.t.Helper()
	if got, body := o.ask(path, in); got != status || !strings.Contains(string(body), says) {
		o.t.Errorf("%s: %d %s, want %d %q", path, got, body, status, says)
	}
}

type fields = map[string]any

func TestAreaIsDrawnAndSaved(t *testing.T) {
	o := open(t)
	dir, id := o.job("valve", someJob)
	var seen shapesDocument
	o.get("/api/jobs/"+id+"/area", &seen)
	if len(seen.Shapes) != 1 || seen.Shapes[0].From != "around[0]" || seen.Shapes[0].Radius != "80ft" {
		t.Fatalf("%+v", seen)
	}
	triangle := fields{"kind": "polygon", "rings": [][][2]float64{{{-140.5, 40.5}, {-140.499, 40.5}, {-140.499, 40.501}, {-140.5, 40.5}}}}
	in := fields{"etag": seen.Etag, "shapes": []any{seen.Shapes[0], triangle}, "dropped": []any{}}
	var after jobDocument
	o.post("/api/jobs/"+id+"/area", in, &after)
	text, _ := os.ReadFile(filepath.Join(dir, job.FileName))
	if want := strings.Replace(someJob, "margin = \"50ft\"\n", "margin = \"50ft\"\narea = [\"area.geojson\"]\n", 1); string(text) != want {
		t.Errorf("%s", text)
	}
	if after.Problem != nil || after.Etag == seen.Etag {
		t.Errorf("%+v", after)
	}
	o.refused("/api/jobs/"+id+"/area", in, http.StatusConflict, "was changed meanwhile")
	unlock, err := job.Lock(dir, "a test")
	if err != nil {
		t.Fatal(err)
	}
	in["etag"] = after.Etag
	o.refused("/api/jobs/"+id+"/area", in, http.StatusConflict, "a test (")
	if err := unlock(); err != nil {
		t.Fatal(err)
	}
	if now, _ := os.ReadFile(filepath.Join(dir, job.FileName)); !bytes.Equal(now, text) {
		t.Errorf("%s", now)
	}
}

func TestDrawingIsLookedAt(t *testing.T) {
	o := open(t)
	circle := fields{"kind": "circle", "center": [2]float64{-140.4968, 40.4986}, "radius": "80ft"}
	bow := fields{"kind": "polygon", "rings": [][][2]float64{{{-140.5, 40.5}, {-140.499, 40.501}, {-140.499, 40.5}, {-140.5, 40.501}, {-140.5, 40.5}}}}
	var got lookedAt
	o.post("/api/area/look", fields{"job": "", "units": "us", "margin": "50ft", "shapes": []any{circle, bow}}, &got)
	if len(got.Odd) != 1 || got.Odd[0].Shape != 1 || !got.Odd[0].Wrong || got.Area != "0.46 acres" || len(got.Outline) != 1 {
		t.Errorf("%+v", got)
	}
	o.refused("/api/area/look", fields{"job": "", "units": "us", "margin": "50", "shapes": []any{}}, http.StatusBadRequest, "has no unit")
	var at placeDocument
	o.post("/api/place", fields{"text": "40 29 54.96 N, 140 29 48.48 W", "units": "us"}, &at)
	if d := at.At[0] + 140.4968; d > 1e-9 || d < -1e-9 || at.Likely != nil {
		t.Errorf("%+v", at)
	}
	o.post("/api/place", fields{"text": "40, 105", "units": "us"}, &at)
	if at.Likely == nil || at.Likely[0] != -105 {
		t.Errorf("%+v", at)
	}
	o.refused("/api/place", fields{"text": "here", "units": "us"}, http.StatusBadRequest, "")
}

// send sends the bytes of files as the page does.
func (o *opened) send(names []string, files []string, out any) (status int, body []byte) {
	o.t.Helper()
	return o.sendWith("", names, files, out)
}

func (o *opened) sendWith(query string, names []string, files []string, out any) (status int, body []byte) {
	o.t.Helper()
	path := "/api/read?" + strings.TrimPrefix(query, "&") + "&"
	for i, n := range names {
		path += fmt.Sprintf("name=%s&size=%d&", n, len(files[i]))
	}
	r, err := http.NewRequest(http.MethodPost, o.origin+path, strings.NewReader(strings.Join(files, "")))
	if err != nil {
		o.t.Fatal(err)
	}
	r.Header.Set(secretHeader, o.secret)
	r.Header.Set("Origin", o.origin)
	r.Header.Set("Content-Type", "application/octet-stream")
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		o.t.Fatal(err)
	}
	defer resp.Body.Close()
	var b bytes.Buffer
	_, _ = b.ReadFrom(resp.Body)
	if resp.StatusCode == http.StatusOK {
		if err := json.Unmarshal(b.Bytes(), out); err != nil {
			o.t.Fatal(err)
		}
	}
	return resp.StatusCode, b.Bytes()
}

const pit = `{"type":"Polygon","coordinates":[[[-140.5,40.5],[-140.499,40.5],[-140.499,40.501],[-140.5,40.5]]]}`

func TestNewJobFromADroppedFile(t *testing.T) {
	o := open(t)
	var read readDocument
	if status, body := o.send([]string{"pit.json"}, []string{pit}, &read); status != http.StatusOK || len(read.Outlines) != 1 || len(read.Routes) != 0 || read.Problems["routes"] != "" {
		t.Fatalf("%d %s", status, body)
	}
	shape := read.Outlines[0]
	shape.From = "drop[0]"
	in := fields{"place": o.dir, "name": "Elm St 12", "number": "7", "units": "us", "margin": "50ft", "source": "practice", "set": []any{fields{"key": "base[0].zooms", "value": []int{16, 19}}}, "ticket": fields{"number": "A1", "valid_until": "2026-12-12"},
		"shapes": []any{shape}, "dropped": []any{fields{"file": read.File, "along": false}}}
	var made jobDocument
	o.post("/api/jobs", in, &made)
	dir := filepath.Join(o.dir, "elm-st-12")
	if data, err := os.ReadFile(filepath.Join(dir, "dig-area.json")); err != nil || string(data) != pit || made.Folder != dir {
		t.Errorf("%s, %v, %+v", data, err, made)
	}
	j, err := job.Read(dir)
	if err != nil || j.Ticket == nil || j.Ticket.ValidUntil != "2026-12-12" || j.Number != "7" || j.Bases[0].Zooms.Max != 19 {
		t.Errorf("%+v, %v", j, err)
	}
	o.post("/api/jobs", in, &made)
	if made.Folder != dir+"-2" {
		t.Error(made.Folder)
	}
	in["place"] = t.TempDir()
	o.refused("/api/jobs", in, http.StatusBadRequest, "where the job's folder goes")
	in["place"], in["name"] = o.dir, " "
	o.refused("/api/jobs", in, http.StatusBadRequest, "has no name")
	in["name"], in["dropped"] = "x", []any{fields{"file": "none", "along": false}}
	o.refused("/api/jobs", in, http.StatusBadRequest, "drop it again")
	if entries, _ := os.ReadDir(o.dir); len(entries) != 2 {
		t.Error(entries)
	}
	for _, names := range [][]string{{"../pit.json"}, {"a%2Fb.json"}} {
		if status, body := o.send(names, []string{pit}, &read); status != http.StatusBadRequest {
			t.Errorf("%d %s", status, body)
		}
	}
	if status, body := o.send([]string{"pit.kml"}, []string{pit}, &read); status != http.StatusBadRequest || !strings.Contains(string(body), "pit.kml") {
		t.Errorf("%d %s", status, body)
	}
}

func TestFactsAreSet(t *testing.T) {
	o := open(t)
	dir, id := o.job("valve", someJob)
	var f statedDocument
	o.get("/api/jobs/"+id+"/facts", &f)
	if f.Margin != "50ft" || f.Units != "us" || f.Reading != "" || len(f.Utilities) < 6 {
		t.Errorf("%+v", f)
	}
	var tried struct{ Problems map[string]*problem }
	o.post("/api/jobs/"+id+"/try", fields{"changes": []any{fields{"key": "margin", "value": "50"}, fields{"key": "name", "value": "X"}, fields{"key": "expected", "value": []string{"gaz"}}}}, &tried)
	if len(tried.Problems) != 2 || !strings.Contains(tried.Problems["margin"].What, "has no unit") || tried.Problems["expected"] == nil {
		t.Errorf("%+v", tried)
	}
	var after jobDocument
	changes := fields{"etag": f.Etag, "changes": []any{fields{"key": "margin", "value": "75ft"}, fields{"key": "ticket", "value": fields{"number": "A1", "valid_until": "2026-12-12"}},
		fields{"key": "expected", "value": []string{"gas", "water"}}, fields{"key": "number", "value": nil}}}
	o.post("/api/jobs/"+id+"/set", changes, &after)
	want := strings.NewReplacer("margin = \"50ft\"\n", "margin = \"75ft\"\nexpected = [\"gas\", \"water\"]\n", "number = \"24-117\"\n", "").Replace(someJob) +
		"\n[ticket]\nnumber = \"A1\"\nvalid_until = 2026-12-12\n"
	text, _ := os.ReadFile(filepath.Join(dir, job.FileName))
	if string(text) != want {
		t.Errorf("%s\nwant\n%s", text, want)
	}
	o.refused("/api/jobs/"+id+"/set", changes, http.StatusConflict, "changed meanwhile")
	changes["etag"], changes["changes"] = after.Etag, []any{fields{"key": "colour", "value": "red"}}
	o.refused("/api/jobs/"+id+"/set", changes, http.StatusBadRequest, "is not known")
	if now, _ := os.ReadFile(filepath.Join(dir, job.FileName)); !bytes.Equal(now, text) {
		t.Errorf("%s", now)
	}
}
