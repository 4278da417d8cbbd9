package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"groundsheet/pack/office"
)

// opened is a desk at work for a test, and the folder that it shows.
type opened struct {
	t      *testing.T
	origin string
	secret string
	dir    string // holds the job folders
	d      *desk
	stop   func()
}

const someJob = `# A hand-written job.
name = "Valve 12"
number = "24-117"
margin = "50ft"

[[around]]
center = "40.4986,-140.4968"
radius = "80ft"

[[base]]
source = "practice"
zooms = [16, 18]
`

// open starts a desk on an empty folder, with a store and settings of its own.
func open(t *testing.T) *opened {
	t.Helper()
	o := &opened{t: t, dir: t.TempDir()}
	page := fstest.MapFS{"index.html": {Data: []byte("<!doctype html>")}}
	s, err := New(office.Office{StoreAt: filepath.Join(t.TempDir(), "store"), SourcesFile: ""},
		Options{Folders: []string{o.dir}, Config: t.TempDir(), Page: page})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	links, ended := make(chan string, 1), make(chan error, 1)
	go func() { ended <- s.Listen(ctx, "127.0.0.1:0", func(link string) { links <- link }) }()
	select {
	case link := <-links:
		var is bool
		if o.origin, o.secret, is = strings.Cut(link, "/#"); !is || len(o.secret) < 43 {
			t.Fatalf("the link %q holds no secret of 256 bits", link)
		}
	case err := <-ended:
		t.Fatal(err)
	}
	o.d = s.d
	o.stop = func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		ended <- nil
	}
	t.Cleanup(o.stop)
	return o
}

// job writes a job folder and gives it and its id.
func (o *opened) job(name, text string) (dir, id string) {
	o.t.Helper()
	dir = filepath.Join(o.dir, name)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		o.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "job.toml"), []byte(text), 0o644); err != nil {
		o.t.Fatal(err)
	}
	return dir, idOf(dir)
}

// ask asks as the page does; in is sent as JSON, nil is a question. edit may change the request.
func (o *opened) ask(path string, in any, edit ...func(*http.Request)) (status int, body []byte) {
	o.t.Helper()
	method, sent := http.MethodGet, io.Reader(http.NoBody)
	if in != nil {
		text, err := json.Marshal(in)
		if err != nil {
			o.t.Fatal(err)
		}
		method, sent = http.MethodPost, bytes.NewReader(text)
	}
	r, err := http.NewRequest(method, o.origin+path, sent)
	if err != nil {
		o.t.Fatal(err)
	}
	r.Header.Set(secretHeader, o.secret)
	if in != nil {
		r.Header.Set("Origin", o.origin)
		r.Header.Set("Content-Type", "application/json")
	}
	for _, f := range edit {
		f(r)
	}
	resp, err := http.DefaultTransport.RoundTrip(r) // no redirect is followed
	if err != nil {
		o.t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err = io.ReadAll(resp.Body)
	if err != nil {
		o.t.Fatal(err)
	}
	return resp.StatusCode, body
}

// get asks a question and reads the answer into out.
func (o *opened) get(path string, out any) {
	o.t.Helper()
	status, body := o.ask(path, nil)
	if status != http.StatusOK {
		o.t.Fatalf("%s: %d %s", path, status, body)
	}
	if err := json.Unmarshal(body, out); err != nil {
		o.t.Fatalf("%s: %v in %s", path, err, body)
	}
}

func TestJobsAreListed(t *testing.T) {
	o := open(t)
	_, first := o.job("first", someJob+"\n[ticket]\nnumber = \"8\"\nvalid_until = 2026-12-01\n")
	o.job("later", someJob)
	o.job("below/deeper/broken", "name = 3\n")
	var list struct {
		Jobs []jobRow `json:"jobs"`
	}
	o.get("/api/jobs", &list)
	if len(list.Jobs) != 3 || list.Jobs[0].ID != first {
		t.Fatalf("%+v", list.Jobs)
	}
	for _, r := range list.Jobs {
		if broken := strings.HasSuffix(r.Folder, "broken"); broken != (r.Problem != nil) {
			t.Errorf("%s: problem %+v", r.Folder, r.Problem)
		}
	}
	var doc jobDocument
	o.get("/api/jobs/"+first, &doc)
	if doc.Name != "Valve 12" || doc.LastDay != "2026-12-01" || len(doc.Etag) < 16 || !bytes.Contains(doc.Ground, []byte("margin")) || len(doc.Bounds) != 4 {
		t.Errorf("%+v", doc)
	}
}

func TestEtagChangesWithEachFile(t *testing.T) {
	o := open(t)
	dir, id := o.job("one", someJob+"\n[[overlay]]\nfile = \"water.geojson\"\nutility = \"water\"\n")
	etag := func() string {
		var doc jobDocument
		o.get("/api/jobs/"+id, &doc)
		return doc.Etag
	}
	seen := []string{etag()}
	for _, change := range []struct{ file, text string }{
		{"water.geojson", "{}"}, {"water.geojson", "{ }"}, {"job.toml", someJob + "# a remark\n"}, {"sources.toml", "\n"},
	} {
		if err := os.WriteFile(filepath.Join(dir, change.file), []byte(change.text), 0o644); err != nil {
			t.Fatal(err)
		}
		now := etag()
		if now == seen[len(seen)-1] {
			t.Errorf("%s was changed, and the etag was not", change.file)
		}
		seen = append(seen, now)
	}
	if err := o.d.unchanged(dir, seen[0]); statusOf(err) != http.StatusConflict {
		t.Errorf("an old etag: %v", err)
	}
	if err := o.d.unchanged(dir, etag()); err != nil {
		t.Errorf("the etag of now: %v", err)
	}
}
