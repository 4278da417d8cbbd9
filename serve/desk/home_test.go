package desk

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/pack/fieldbook"
)

// bookOf is the bytes of a field book with one reading.
func bookOf(t *testing.T, job, number, mark string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "x.fieldbook")
	b, err := fieldbook.Open(path, fieldbook.About{Name: job, Number: number}, fieldbook.Options{})
	if err != nil {
		t.Fatal(err)
	}
	id := strings.Repeat(mark, 32)
	text := fmt.Sprintf(`{"layout":1,"id":%q,"mark":%q,"after":[],"action":"write","who":"Ann","phone":%q,"clock":"2026-11-29T12:00:00Z","clock_ahead_s":0,
"feature":{"type":"Feature","geometry":{"type":"Point","coordinates":[-140.4968,40.4986]},"properties":{"kind":"reading","utility":"water","depth_m":1}}}`, id, id, id)
	r, err := b.Append(t.Context(), fieldbook.Sender{Role: "mark"}, [][]byte{[]byte(text)})
	if err != nil || r[0].Refused != "" {
		t.Fatal(r, err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

func TestFieldBooksAreBroughtHome(t *testing.T) {
	o := open(t)
	dir, id := o.job("valve", someJob)
	var j struct{ Name, Number string }
	o.get("/api/jobs/"+id, &j)
	drop := o.drop("valve.fieldbook", bookOf(t, j.Name, j.Number, "a"))
	bring := func(in map[string]any) (status int, r struct {
		Books   []struct{ File, State string }
		Changes []any
		Doubts  []any
		Written bool
		What    string
		Where   string
	}) {
		status, body := o.ask("/api/jobs/"+id+"/collect", in)
		if err := json.Unmarshal(body, &r); err != nil {
			t.Fatalf("%s: %v", body, err)
		}
		return status, r
	}
	before := o.files()
	same := func() {
		t.Helper()
		if after := o.files(); len(after) != len(before) {
			t.Errorf("%d files, there were %d", len(after), len(before))
		}
	}
	if status, r := bring(map[string]any{"drops": []string{drop}, "dry_run": true}); status != http.StatusOK || r.Written || len(r.Changes) != 1 ||
		r.Books[0].File != "valve.fieldbook" || len(r.Doubts) != 1 {
		t.Errorf("%d %+v", status, r)
	}
	same()
	other := o.drop("main.fieldbook", bookOf(t, "Main St", "9", "b"))
	if status, r := bring(map[string]any{"drops": []string{drop, other}, "dry_run": false}); status != http.StatusBadRequest || r.Where != "main.fieldbook" {
		t.Errorf("%d %+v", status, r)
	}
	if status, r := bring(map[string]any{"drops": []string{}, "dry_run": true}); status != http.StatusBadRequest || r.What == "" {
		t.Errorf("%d %+v", status, r)
	}
	same()
	if status, r := bring(map[string]any{"drops": []string{drop}, "dry_run": false}); status != http.StatusOK || !r.Written {
		t.Errorf("%d %+v", status, r)
	}
	if _, err := os.Stat(filepath.Join(dir, "overlays", "found-water.geojson")); err != nil {
		t.Error(err)
	}
	if status, r := bring(map[string]any{"drops": []string{drop}, "dry_run": false}); status != http.StatusOK || r.Written || len(r.Changes) != 0 {
		t.Errorf("again: %d %+v", status, r)
	}
}
