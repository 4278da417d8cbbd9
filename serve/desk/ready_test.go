package desk

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"testing/fstest"
	"time"

	"groundsheet/pack/check"
	"groundsheet/pack/job"
	"groundsheet/pack/office"
	"groundsheet/tiles/fetch"
)

// closedHours is a time of day that is far from now, as terms state it.
func closedHours() string {
	at := time.Now().UTC().Add(12 * time.Hour)
	return fmt.Sprintf("hours = [%q]\ntime_zone = \"UTC\"", at.Format("15:04")+"-"+at.Add(time.Minute).Format("15:04"))
}

// Two jobs are made ready, the one after the other: packed, checked and briefed. One whose
// files are wrong fails, and the next is made all the same.
func TestMakeReady(t *testing.T) {
	o := open(t)
	a, first := o.job("a", someJob)
	_, broken := o.job("b", strings.Replace(someJob, `source = "practice"`, `source = "none"`, 1))
	c, third := o.job("c", strings.Replace(someJob, "Valve 12", "Valve 13", 1))
	if status, body := o.ask("/api/tasks", map[string]any{"kind": "ready", "jobs": []string{first, broken, third}}); status != http.StatusOK {
		t.Fatal(status, string(body))
	}
	until(t, "all have ended", func() bool {
		for _, r := range o.d.tasks.list() {
			if r.Ended == nil {
				return false
			}
		}
		return true
	})
	for i, want := range []string{done, failed, done} {
		if r := o.d.tasks.list()[i]; r.State != want || (r.Problem != nil) != (want == failed) {
			t.Errorf("task %d: %s %+v", i, r.State, r.Problem)
		}
	}
	for dir, name := range map[string]string{a: "valve-12", c: "valve-13"} {
		path := filepath.Join(dir, "out", name)
		if r, err := check.Run(t.Context(), path+".mbtiles", check.Options{}); err != nil || r.Verdict != check.Fit {
			t.Errorf("%s: %+v %v", name, r, err)
		}
		for _, ending := range []string{".pdf", ".html"} {
			if _, err := os.Stat(path + ending); err != nil {
				t.Error(err)
			}
		}
		if who := job.Holder(dir); who != "" {
			t.Errorf("%s is still locked by %s", dir, who)
		}
	}
	var out struct{ Facts map[string]facts }
	until(t, "the facts", func() bool {
		status, body := o.ask("/api/jobs/facts", map[string]any{"jobs": []string{first, broken, third}})
		if err := json.Unmarshal(body, &out); status != http.StatusOK || err != nil {
			t.Fatal(status, err)
		}
		return len(out.Facts) == 3
	})
	if f := out.Facts[first]; f.State != fit || f.Asks[0].Tiles != 0 || f.Due == nil || f.Bytes == 0 {
		t.Errorf("%+v", f)
	}
	if f := out.Facts[broken]; f.State != unreadable || !strings.Contains(f.Why, "none") {
		t.Errorf("%+v", f)
	}
}

// TestFitOnlyWhenHeldAgainstTheJob: the pack of a job that names another source by now is whole by
// itself, and is not called fit.
func TestFitOnlyWhenHeldAgainstTheJob(t *testing.T) {
	o := open(t)
	dir, id := o.job("valve", someJob)
	o.done(o.start("pack", id), nil)
	state := func() string {
		t.Helper()
		f, err := o.d.factsOf(t.Context(), o.d.files.look(dir))
		if err != nil {
			t.Fatal(err)
		}
		return f.State + ": " + f.Why
	}
	if got := state(); got != fit+": " {
		t.Error(got)
	}
	sources := "[another]\nkind = \"xyz\"\nurl = \"https://tiles.example.com/{z}/{x}/{y}.png\"\nzooms = [0, 20]\nattribution = \"x\"\n" +
		"[another.terms]\noffline = \"allowed\"\nreference = \"x\"\n"
	if err := os.WriteFile(filepath.Join(dir, "sources.toml"), []byte(sources), 0o644); err != nil {
		t.Fatal(err)
	}
	o.job("valve", strings.Replace(someJob, `"practice"`, `"another"`, 1))
	if got := state(); !strings.HasPrefix(got, notProved) || !strings.Contains(got, "practice") {
		t.Error(got)
	}
}

// TestFactsOfAJobThatChangesMeanwhile: they are found out again, and are those of the job as it is.
func TestFactsOfAJobThatChangesMeanwhile(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "valve")
	write := func(text string) {
		if err := errors.Join(os.MkdirAll(dir, 0o755), os.WriteFile(filepath.Join(dir, job.FileName), []byte(text), 0o644)); err != nil {
			t.Fatal(err)
		}
	}
	write(someJob)
	change := func() {}
	where := office.Office{StoreAt: filepath.Join(t.TempDir(), "store"), Fetch: fetch.Options{Now: func() time.Time {
		change()
		return time.Now()
	}}}
	s, err := New(where, Options{Folders: []string{filepath.Dir(dir)}, Config: t.TempDir(), Page: fstest.MapFS{}})
	if err != nil {
		t.Fatal(err)
	}
	a, id := s.d.assessor, s.d.folders.add(dir)
	times := 0
	change = func() {
		if times++; times == 1 {
			write(strings.Replace(someJob, "80ft", "90ft", 1))
		}
	}
	a.want, a.busy = []string{id}, true
	a.work(t.Context())
	if _, good := a.good(id, a.stamp(s.d.files.look(dir))); !good || times < 2 {
		t.Errorf("the facts are of an earlier state, looked at %d times", times)
	}
}

// Outside the hours of the terms a run waits by itself and says until when; meanwhile no
// request is made, and it can be paused and stopped at once.
func TestReadyWaitsForTheHours(t *testing.T) {
	var asked atomic.Int32
	source := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { asked.Add(1) }))
	t.Cleanup(source.Close)
	o := open(t)
	dir, id := o.job("site", strings.Replace(someJob, `"practice"`, `"night"`, 1))
	text := fmt.Sprintf("[night]\nkind = \"xyz\"\nurl = %q\nzooms = [0, 20]\nattribution = \"x\"\n[night.terms]\noffline = \"allowed\"\nreference = \"x\"\n%s\n",
		source.URL+"/{z}/{x}/{y}.png", closedHours())
	if err := os.WriteFile(filepath.Join(dir, "sources.toml"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if status, body := o.ask("/api/tasks", map[string]any{"kind": "ready", "jobs": []string{id}}); status != http.StatusOK {
		t.Fatal(status, string(body))
	}
	one := func() taskReport { return o.d.tasks.list()[0] }
	until(t, "it waits", func() bool { return one().Progress.Until != nil || one().State == failed })
	if r := one(); r.State != running || time.Until(*r.Progress.Until) < 10*time.Hour || !strings.Contains(r.Progress.Text, "waiting until") {
		t.Fatalf("%+v %+v", r, r.Problem)
	}
	if who := job.Holder(dir); !strings.Contains(who, "the desk") {
		t.Errorf("the folder is locked by %q", who)
	}
	o.ask("/api/tasks/1/pause", map[string]any{})
	until(t, "it is paused", func() bool { return one().State == paused })
	if who := job.Holder(dir); who != "" {
		t.Errorf("it is paused, and the folder is locked by %s", who)
	}
	o.ask("/api/tasks/1/go", map[string]any{})
	until(t, "it waits again", func() bool { return one().State == running && one().Progress.Until != nil })
	o.ask("/api/tasks/1/stop", map[string]any{})
	until(t, "it is stopped", func() bool { return one().State == stopped })
	if asked.Load() > 0 {
		t.Errorf("%d requests outside the hours", asked.Load())
	}
}

// A job that another program is writing into is left alone, and the task says who.
func TestReadyRespectsTheLock(t *testing.T) {
	o := open(t)
	dir, id := o.job("site", someJob)
	unlock, err := job.Lock(dir, "groundsheet pack")
	if err != nil {
		t.Fatal(err)
	}
	o.ask("/api/tasks", map[string]any{"kind": "ready", "jobs": []string{id}})
	one := func() taskReport { return o.d.tasks.list()[0] }
	until(t, "it has failed", func() bool { return one().State == failed })
	if p := one().Problem; !strings.Contains(p.What, "groundsheet pack (") {
		t.Errorf("%+v", p)
	}
	if _, err := os.Stat(filepath.Join(dir, "out")); err == nil {
		t.Error("something was written")
	}
	if err := unlock(); err != nil {
		t.Fatal(err)
	}
}

// The user's list of places is a plain file: remarks and other lines stay.
func TestPlaces(t *testing.T) {
	o := open(t)
	file := o.d.folders.file
	other := t.TempDir()
	before := "# my jobs\n" + o.dir + "\n  /gone  \n"
	if err := os.WriteFile(file, []byte(before), 0o600); err != nil {
		t.Fatal(err)
	}
	set := func(folder string, listed bool, want int) {
		t.Helper()
		if status, body := o.ask("/api/places", map[string]any{"folder": folder, "listed": listed}); status != want {
			t.Errorf("%s: %d %s", folder, status, body)
		}
	}
	read := func() string {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	set(other, true, 200)
	set(other, true, 200) // once
	if got := read(); got != before+other+"\n" {
		t.Errorf("%q", got)
	}
	set("/gone", false, 200)
	set(other, false, 200)
	if got := read(); got != "# my jobs\n"+o.dir+"\n" {
		t.Errorf("%q", got)
	}
	for _, bad := range []string{"", "relative", other + "/nothing", file} {
		set(bad, true, 400)
	}
	if got := read(); got != "# my jobs\n"+o.dir+"\n" {
		t.Errorf("after what was refused: %q", got)
	}
}
