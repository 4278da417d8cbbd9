package desk

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"
)

// wants asks and reads the answer into v, which must come with the status.
func (o *opened) wants(want int, path string, in, v any) {
	o.t.Helper()
	status, body := o.ask(path, in)
	if status != want {
		o.t.Fatalf("%s: %d %s", path, status, body)
	}
	if v != nil {
		if err := json.Unmarshal(body, v); err != nil {
			o.t.Fatalf("%s: %v in %s", path, err, body)
		}
	}
}

// until waits for a task, and gives it as it is then with its result in v.
func (o *opened) until(id string, is func(taskReport) bool, v any) taskReport {
	o.t.Helper()
	for range 600 {
		var all []struct {
			taskReport
			Progress struct {
				Stage  string
				Result json.RawMessage
			} `json:"progress"`
		}
		o.wants(200, "/api/tasks", nil, &all)
		for _, one := range all {
			one.taskReport.Progress.Stage = one.Progress.Stage
			if one.ID != id || !is(one.taskReport) {
				continue
			}
			if v != nil {
				if err := json.Unmarshal(one.Progress.Result, v); err != nil {
					o.t.Fatalf("%v in %s", err, one.Progress.Result)
				}
			}
			return one.taskReport
		}
		time.Sleep(50 * time.Millisecond)
	}
	_, now := o.ask("/api/tasks", nil)
	o.t.Fatalf("task %s does not come so far: %s", id, now)
	return taskReport{}
}

func ended(t taskReport) bool { return t.Ended != nil }

func (o *opened) done(id string, v any) {
	o.t.Helper()
	if t := o.until(id, ended, v); t.State != done {
		o.t.Fatalf("%+v, %+v", t, t.Problem)
	}
}

// start starts a task of a kind for a job.
func (o *opened) start(kind, job string) string {
	o.t.Helper()
	var started struct{ Tasks []string }
	o.wants(200, "/api/tasks", map[string]any{"kind": kind, "jobs": []string{job}}, &started)
	return started.Tasks[0]
}

// TestWork packs a job, looks at its findings and its paper, serves it, copies it and
// refreshes it.
func TestWork(t *testing.T) {
	o := open(t)
	field := fstest.MapFS{"index.html": {Data: []byte("the map of phones")}}
	for _, name := range []string{"join.html", "join.js", "join.css", "guard.js", "icon.svg", "apple-touch-icon.png"} {
		field[name] = &fstest.MapFile{}
	}
	o.d.field = field
	_, id := o.job("valve", someJob)
	at := "/api/jobs/" + id
	o.wants(404, at+"/brief", nil, nil)
	o.wants(404, at+"/copy", map[string]string{"to": t.TempDir()}, nil)
	o.wants(404, at+"/serve", map[string]any{"on": true}, nil)

	var packs struct{ Packs []packedBase }
	o.done(o.start("pack", id), &packs)
	if len(packs.Packs) != 1 || packs.Packs[0].Verdict != "fit" || packs.Packs[0].Fetched == 0 {
		t.Fatalf("%+v", packs)
	}
	var found struct {
		Packs []struct {
			Verdict  string
			Findings []struct{ Detail string }
			Against  string
		}
	}
	o.wants(200, at+"/findings", nil, &found)
	if len(found.Packs) != 1 || found.Packs[0].Verdict != "fit" || found.Packs[0].Against != "" {
		t.Errorf("%+v", found)
	}
	for query, begins := range map[string]string{"": "<!doctype html>", "?as=pdf": "%PDF-", "?pack=valve-12.mbtiles&as=pdf": "%PDF-"} {
		if status, body := o.ask(at+"/brief"+query, nil); status != 200 || !bytes.HasPrefix(body, []byte(begins)) {
			t.Errorf("%s: %d %.60s", query, status, body)
		}
	}
	o.wants(404, at+"/brief?pack=another", nil, nil)
	o.refreshes(id)
	o.copies(id, packs.Packs[0].File)
	o.serves(id)
}

func (o *opened) refreshes(id string) {
	o.t.Helper()
	var none, some *struct{ Places struct{ Features []any } }
	if o.wants(200, "/api/jobs/"+id+"/changes", nil, &none); none != nil {
		o.t.Error("places before a refresh")
	}
	var packs struct{ Packs []packedBase }
	o.done(o.start("refresh", id), &packs)
	o.wants(200, "/api/jobs/"+id+"/changes", nil, &some)
	if len(packs.Packs) != 1 || some == nil || len(some.Places.Features) != packs.Packs[0].Changes.Changed {
		o.t.Errorf("%+v %+v", packs, some)
	}
}

func (o *opened) copies(id, file string) {
	o.t.Helper()
	stick := o.t.TempDir()
	var started struct{ Task string }
	o.wants(200, "/api/jobs/"+id+"/copy", map[string]string{"to": stick}, &started)
	var out struct {
		Copies []struct{ File, SHA256 string }
	}
	o.done(started.Task, &out)
	copied, err := os.ReadFile(filepath.Join(stick, filepath.Base(file)))
	own, err2 := os.ReadFile(file)
	if err != nil || err2 != nil || !bytes.Equal(copied, own) || len(out.Copies) != 1 || len(out.Copies[0].SHA256) != 64 {
		o.t.Errorf("%v %v %+v", err, err2, out)
	}
	for _, to := range []string{"", "stick", filepath.Join(stick, "none")} {
		o.wants(400, "/api/jobs/"+id+"/copy", map[string]string{"to": to}, nil)
	}
}

func (o *opened) serves(id string) {
	o.t.Helper()
	at := "/api/jobs/" + id + "/serve"
	var started struct{ Task string }
	o.wants(200, at, map[string]any{"on": true, "listen": "127.0.0.1:0"}, &started)
	var access served
	o.until(started.Task, func(t taskReport) bool { return t.Progress.Stage == "serving" }, &access)
	if len(access.Addresses) != 1 || access.Code != "" || access.Link != "" {
		o.t.Fatalf("%+v", access)
	}
	answer, err := http.Get(access.Addresses[0].URL)
	if err != nil {
		o.t.Fatal(err)
	}
	text, err := io.ReadAll(answer.Body)
	answer.Body.Close()
	if err != nil || string(text) != "the map of phones" {
		o.t.Errorf("%v %.80s", err, text)
	}
	_, other := o.job("other", strings.Replace(someJob, "Valve 12", "Valve 13", 1))
	o.wants(409, "/api/jobs/"+other+"/serve", map[string]any{"on": true}, nil)
	o.wants(200, at, map[string]any{"on": false}, nil)
	o.until(started.Task, ended, nil)
	if _, err := http.Get(access.Addresses[0].URL); err == nil {
		o.t.Error("it is still served")
	}
	o.wants(200, at, map[string]any{"on": true, "listen": "0.0.0.0:0"}, &started)
	o.until(started.Task, func(t taskReport) bool { return t.Progress.Stage == "serving" }, &access)
	if access.Code == "" || !strings.Contains(access.Link, "/join#") || access.QRSide < 29 || !strings.HasPrefix(access.QRPath, "M") {
		o.t.Errorf("%+v", access)
	}
	o.wants(200, at, map[string]any{"on": false}, nil)
}

// TestKeeping: what is to be kept is never proposed; exactly the proposal that was looked
// at is carried out; a job is closed and opened again.
func TestKeeping(t *testing.T) {
	o := open(t)
	_, id := o.job("valve", someJob)
	at := "/api/jobs/" + id
	var doc struct {
		Store   string
		Sources []struct{ Tiles, Bytes int64 }
		Jobs    []storeJob
	}
	o.wants(200, "/api/store", nil, &doc)
	var reg registration
	if o.wants(200, at+"/register", nil, &reg); reg.Known || len(doc.Jobs) != 0 {
		t.Errorf("%+v %+v", reg, doc)
	}
	o.wants(400, at+"/close", struct{}{}, nil)
	o.done(o.start("pack", id), nil)
	o.wants(200, "/api/store", nil, &doc)
	if len(doc.Sources) != 1 || doc.Sources[0].Tiles == 0 || len(doc.Jobs) != 1 || doc.Jobs[0].ID != id || !doc.Jobs[0].Here {
		t.Fatalf("%+v", doc)
	}
	o.wants(200, at+"/close", struct{}{}, &reg)
	if !reg.Known || reg.Open || reg.Closed == nil {
		t.Errorf("%+v", reg)
	}
	day := time.Now().AddDate(0, 0, 20).Format(time.DateOnly)
	o.wants(400, at+"/keep", map[string]string{"until": day}, nil)
	o.wants(200, at+"/keep", map[string]string{"until": day, "reason": "claim 7"}, &reg)
	if !reg.Keep || reg.Until != day || reg.Reason != "claim 7" {
		t.Errorf("%+v", reg)
	}
	type proposed struct {
		Proposal struct {
			Tiles  int64
			Digest string
			Kept   []struct {
				Name   string
				Reason string `json:"keep_reason"`
			} `json:"jobs_kept_until"`
		}
		AsOf time.Time `json:"as_of"`
	}
	var p proposed
	o.wants(400, "/api/store/prune", map[string]any{}, nil)
	o.wants(200, "/api/store/prune", map[string]any{"closed": true}, &p)
	if p.Proposal.Tiles != 0 || len(p.Proposal.Kept) != 1 || p.Proposal.Kept[0].Reason != "claim 7" {
		t.Errorf("%+v", p)
	}
	o.wants(200, at+"/keep", map[string]string{"until": "", "reason": ""}, &reg)
	// What was looked at before is another proposal now.
	o.wants(409, "/api/store/prune", map[string]any{"closed": true, "digest": p.Proposal.Digest, "as_of": p.AsOf}, nil)
	p = proposed{}
	o.wants(200, "/api/store/prune", map[string]any{"closed": true}, &p)
	if p.Proposal.Tiles == 0 || len(p.Proposal.Kept) != 0 {
		t.Fatalf("%+v", p)
	}
	o.wants(200, at+"/reopen", struct{}{}, &reg)
	if !reg.Open {
		t.Errorf("%+v", reg)
	}
	apply := map[string]any{"closed": true, "digest": p.Proposal.Digest, "as_of": p.AsOf}
	o.wants(409, "/api/store/prune", apply, nil)
	o.wants(200, at+"/close", struct{}{}, nil)
	var started struct{ Task string }
	o.wants(200, "/api/store/prune", apply, &started)
	o.done(started.Task, nil)
	if o.wants(200, "/api/store", nil, &doc); doc.Sources[0].Tiles != 0 {
		t.Errorf("%d tiles stay", doc.Sources[0].Tiles)
	}
}

// TestNightly: all open jobs are refreshed once at the hour in the file, also when a
// person wrote it.
func TestNightly(t *testing.T) {
	o := open(t)
	_, id := o.job("valve", someJob)
	o.done(o.start("pack", id), nil)
	var state nightlyState
	o.wants(400, "/api/nightly", map[string]string{"at": "half past two"}, nil)
	if o.wants(200, "/api/nightly", map[string]string{"at": "02:30"}, &state); state.At != "02:30" || state.Jobs != 1 || len(state.Notes) != 0 {
		t.Errorf("%+v", state)
	}
	if err := os.WriteFile(o.d.nightly.file(), []byte("# by hand\n\n 03:15 \n"), 0o600); err != nil {
		t.Fatal(err)
	}
	night := time.Date(2026, 12, 1, 3, 15, 20, 0, time.Local)
	refreshes := func() (n int) {
		for _, one := range o.d.tasks.list() {
			if one.Kind == "refresh" {
				n++
			}
		}
		return n
	}
	for _, step := range []struct {
		at   time.Time
		want int
	}{{night.Add(-time.Minute), 0}, {night, 1}, {night.Add(30 * time.Second), 1}, {night.Add(time.Minute), 1}, {night.AddDate(0, 0, 1), 2}} {
		o.d.nightly.round(t.Context(), step.at)
		if n := refreshes(); n != step.want {
			t.Errorf("at %v: %d refreshes, want %d", step.at, n, step.want)
		}
		for _, one := range o.d.tasks.list() {
			o.until(one.ID, ended, nil)
		}
	}
	if o.wants(200, "/api/nightly", map[string]string{"at": ""}, &state); state.At != "" {
		t.Errorf("%+v", state)
	}
}

// TestRemovable: what people plug in is found in the system's table of mounts.
func TestRemovable(t *testing.T) {
	got := removable("/dev/sda1 / ext4 rw 0 0\n/dev/sdb1 /media/ann/SITE\\040STICK vfat rw 0 0\nproc /proc proc rw 0 0\n/dev/sdc1 /run/media/ann/A exfat rw 0 0\nbroken\n")
	if strings.Join(got, "|") != "/media/ann/SITE STICK|/run/media/ann/A" {
		t.Errorf("%q", got)
	}
}
