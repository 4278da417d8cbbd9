package desk

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// drop sends a file as the page does, and gives what the desk calls it.
func (o *opened) drop(name, text string) string {
	o.t.Helper()
	status, body := o.ask("/api/drop?name="+url.QueryEscape(name), map[string]string{}, func(r *http.Request) {
		r.Header.Set("Content-Type", "application/octet-stream")
		r.Body = io.NopCloser(bytes.NewReader([]byte(text)))
		r.ContentLength = int64(len(text))
	})
	var answer struct{ Drop string }
	if err := json.Unmarshal(body, &answer); status != http.StatusOK || err != nil {
		o.t.Fatalf("%d %s", status, body)
	}
	return answer.Drop
}

type proposalJSON struct {
	Ready   bool
	Problem string
	Items   []struct{ Key, Value, Sure string }
	Unread  []struct {
		Line   int
		Detail string
	}
	Features struct{ Features []any }
}

func (o *opened) proposal(id, drop string, answers map[string]string) (p proposalJSON) {
	o.t.Helper()
	status, body := o.ask("/api/jobs/"+id+"/records/propose", map[string]any{"drop": drop, "answers": answers})
	if err := json.Unmarshal(body, &p); status != http.StatusOK || err != nil {
		o.t.Fatalf("%d %s", status, body)
	}
	return p
}

const someReadings = "lat,lon,depth,note\n40.49861,-140.49681,3.5,a\n40.49862,-140.49683,3.6,b\n40.49863,-140.49684,x,c\n"

func TestRecordsAreTakenInAndOut(t *testing.T) {
	o := open(t)
	dir, id := o.job("valve", someJob+"\n# the last line\n")
	_, body := o.ask("/api/jobs/"+id+"/overlays", nil)
	etag := etagOf(t, body)
	drop := o.drop("water readings.csv", someReadings)
	p := o.proposal(id, drop, nil)
	if p.Ready || len(p.Features.Features) != 3 { // places are known, depths are not yet
		t.Errorf("%+v", p)
	}
	answers := map[string]string{"utility": "water", "datum": "not known", "units.depth": "ft"}
	if p = o.proposal(id, drop, answers); p.Ready || len(p.Unread) != 1 || p.Unread[0].Line != 4 || len(p.Features.Features) != 2 {
		t.Errorf("%+v", p)
	}
	add := func(etag string) (int, []byte) {
		return o.ask("/api/jobs/"+id+"/records", map[string]any{"etag": etag, "drop": drop, "answers": answers})
	}
	before := read(t, dir)
	if status, body := add(etag); status == http.StatusOK || read(t, dir) != before {
		t.Errorf("added with a question open: %s", body)
	}
	if _, err := os.Stat(filepath.Join(dir, "overlays")); err == nil {
		t.Error("a folder was made")
	}
	answers["unread"] = "leave out"
	if status, _ := add("another"); status != http.StatusConflict || read(t, dir) != before {
		t.Errorf("status %d for a job that was changed meanwhile", status)
	}
	if status, body := add(etag); status != http.StatusOK {
		t.Fatalf("%d %s", status, body)
	}
	after := read(t, dir)
	if !strings.HasPrefix(after, before) || !strings.Contains(after, `leave_out = [{ line = 4, why = 'cannot be read: `) {
		t.Errorf("job.toml is\n%s", after)
	}
	if copied, err := os.ReadFile(filepath.Join(dir, "overlays", "water readings.csv")); err != nil || string(copied) != someReadings {
		t.Errorf("%v: %q", err, copied)
	}
	_, body = o.ask("/api/jobs/"+id+"/overlays", nil)
	if !bytes.Contains(body, []byte(`"letter":"W"`)) || !bytes.Contains(body, []byte(`"left_out":[{"line":4`)) {
		t.Errorf("%s", body)
	}
	if status, features := o.ask("/api/jobs/"+id+"/overlays/1", nil); status != http.StatusOK || bytes.Count(features, []byte(`"Point"`)) != 2 {
		t.Errorf("%d %s", status, features)
	}
	if status, _ := o.ask("/api/jobs/"+id+"/overlays/2", nil); status != http.StatusNotFound {
		t.Errorf("status %d for an overlay that is not there", status)
	}
	remove := "/api/jobs/" + id + "/overlays/1/remove"
	if status, _ := o.ask(remove, map[string]string{"etag": etag}); status != http.StatusConflict {
		t.Errorf("removed by a page that has not seen it: %d", status)
	}
	if status, body := o.ask(remove, map[string]string{"etag": etagOf(t, body)}); status != http.StatusOK {
		t.Fatalf("%d %s", status, body)
	}
	if now := read(t, dir); strings.TrimSpace(now) != strings.TrimSpace(before) {
		t.Errorf("job.toml is\n%s\nwas\n%s", now, before)
	}
}

func TestDropsThatAreNotKept(t *testing.T) {
	o := open(t)
	_, id := o.job("valve", someJob)
	if status, _ := o.ask("/api/jobs/"+id+"/records/propose", map[string]any{"drop": "none"}); status != http.StatusNotFound {
		t.Errorf("status %d", status)
	}
	first := o.drop("a.csv", someReadings)
	for i := range mostDrops {
		o.drop("b.csv", strings.Repeat("x", i))
	}
	if status, _ := o.ask("/api/jobs/"+id+"/records/propose", map[string]any{"drop": first}); status != http.StatusNotFound {
		t.Errorf("status %d for a file that later ones pushed out", status)
	}
	if p := o.proposal(id, o.drop("../../etc/passwd.csv", "nothing"), nil); p.Ready {
		t.Error("ready")
	}
}

func etagOf(t *testing.T, body []byte) string {
	t.Helper()
	var doc struct{ Etag string }
	if err := json.Unmarshal(body, &doc); err != nil || doc.Etag == "" {
		t.Fatalf("%v: %s", err, body)
	}
	return doc.Etag
}

func read(t *testing.T, dir string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dir, "job.toml"))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
