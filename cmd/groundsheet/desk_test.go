package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"groundsheet/pack/check"
	"groundsheet/pack/job"
	"groundsheet/serve/web"
	"groundsheet/tiles"
)

// deskProcess is a desk that runs as a process of its own.
type deskProcess struct {
	t              *testing.T
	c              *exec.Cmd
	origin, secret string
	ended          chan error
}

func startDesk(t *testing.T, o *worker, env []string, args ...string) *deskProcess {
	t.Helper()
	if _, err := web.Desk(); errors.Is(err, web.ErrNotBuilt) {
		if os.Getenv("CI") != "" {
			t.Fatal(err)
		}
		t.Skip("the page is not built")
	}
	d := &deskProcess{t: t, c: exec.Command(os.Args[0], o.args(append([]string{"desk", o.dir}, args...))...), ended: make(chan error, 1)}
	d.c.Env = append(os.Environ(), append([]string{"GROUNDSHEET_AS_PROGRAM=1", "HOME=" + o.dir, "XDG_CONFIG_HOME=" + o.path("config")}, env...)...)
	out, err := d.c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := d.c.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewReader(out)
	line, err := lines.ReadString('\n')
	link, is := strings.CutPrefix(strings.TrimSpace(line), "desk: ")
	if err != nil || !is {
		t.Fatalf("the desk says %q: %v", line, err)
	}
	d.origin, d.secret, _ = strings.Cut(link, "/#")
	go func() {
		_, _ = io.Copy(io.Discard, lines)
		d.ended <- d.c.Wait()
	}()
	t.Cleanup(d.kill)
	return d
}

func (d *deskProcess) kill() {
	_ = d.c.Process.Kill() // it may have ended
	err := <-d.ended
	d.ended <- err
}

// ask asks as the page does; an answer that does not come is "", 0.
func (d *deskProcess) ask(path string, in any, out any) (status int) {
	d.t.Helper()
	method, body := http.MethodGet, []byte(nil)
	if in != nil {
		method = http.MethodPost
		body, _ = json.Marshal(in)
	}
	r, err := http.NewRequest(method, d.origin+path, bytes.NewReader(body))
	if err != nil {
		d.t.Fatal(err)
	}
	r.Header.Set("Groundsheet-Desk", d.secret)
	r.Header.Set("Origin", d.origin)
	r.Header.Set("Content-Type", "application/json")
	resp, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		return 0
	}
	defer resp.Body.Close()
	if out != nil {
		_ = json.NewDecoder(resp.Body).Decode(out) // cut off by a kill
	}
	return resp.StatusCode
}

// oneJob is the id of the only job there is.
func (d *deskProcess) oneJob() string {
	d.t.Helper()
	var list struct{ Jobs []struct{ ID string } }
	if status := d.ask("/api/jobs", nil, &list); status != http.StatusOK || len(list.Jobs) != 1 {
		d.t.Fatalf("%d %+v", status, list)
	}
	return list.Jobs[0].ID
}

// TestSecretIsOnNoCommandLine: the browser is started with the name of a file that only
// the user can read; the file leads to the desk, and is gone when the page has opened.
func TestSecretIsOnNoCommandLine(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("a shell script stands for the browser")
	}
	o := newWorker(t)
	told := o.path("told")
	browser := o.write("browser", "#!/bin/sh\nprintf '%s\\n' \"$@\" > "+told+".new && mv "+told+".new "+told+"\n")
	if err := os.Chmod(browser, 0o755); err != nil {
		t.Fatal(err)
	}
	d := startDesk(t, o, []string{"BROWSER=" + browser})
	var given []byte
	for end := time.Now().Add(10 * time.Second); len(given) == 0 && time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		given, _ = os.ReadFile(told)
	}
	file := strings.TrimSpace(string(given))
	if file == "" || strings.Contains(file, d.secret) {
		t.Fatalf("the browser was started with %q", file)
	}
	for path, want := range map[string]os.FileMode{file: 0o600, filepath.Dir(file): 0o700} {
		if info, err := os.Stat(path); err != nil || info.Mode().Perm() != want {
			t.Errorf("%s: %v %v", path, info, err)
		}
	}
	if text, err := os.ReadFile(file); err != nil || !bytes.Contains(text, []byte(d.origin+"/#"+d.secret)) {
		t.Errorf("the file leads elsewhere: %s %v", text, err)
	}
	for _, line := range commandLines(t) {
		if strings.Contains(line, d.secret) {
			t.Errorf("the secret is on a command line: %s", line)
		}
	}
	d.ask("/api/state", nil, nil)
	if _, err := os.Stat(filepath.Dir(file)); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the page has opened, and the file is still there: %v", err)
	}
	if err := d.c.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := <-d.ended; err != nil {
		t.Errorf("it ended with %v", err)
	}
	d.ended <- nil
}

// commandLines are those of all processes that this user can see.
func commandLines(t *testing.T) (all []string) {
	t.Helper()
	files, err := filepath.Glob("/proc/[0-9]*/cmdline")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if text, err := os.ReadFile(f); err == nil { // else it has ended
			all = append(all, string(text))
		}
	}
	return all
}

// TestKilledDesk kills the desk while it makes a job ready, in fetching and in writing: at
// no time stands a file under the pack's or the brief's name that is not whole, what is
// stored is never fetched again, and the next desk goes on. The lock of the dead one is
// none.
func TestKilledDesk(t *testing.T) {
	o := newWorker(t)
	l := &ledger{stored: map[tiles.ID]bool{}, image: jpegOf(t, 256)}
	server := httptest.NewServer(l)
	t.Cleanup(server.Close)
	o.write("sources.toml", strings.Replace(sourceText("town", server.URL+"/{z}/{x}/{y}.jpg", ""), "requests_per_second = 2000", "requests_per_second = 200", 1))
	o.must(0, "new", o.path("site"), "--name", "Test site", "--around", "40.5,-140.5", "--radius", "200ft", "--margin", "20ft", "--zooms", "15,21")
	brief := strings.TrimSuffix(o.packPath(), ".mbtiles") + ".pdf"
	r := rand.New(rand.NewPCG(7, 7))
	late := 0
	due := []func() bool{}
	for _, after := range []int64{5, 60, 30} {
		due = append(due, func() bool { return l.answers() > after })
	}
	for range 20 {
		wait, began := time.Duration(r.IntN(12))*time.Millisecond, time.Now()
		due = append(due, func() bool {
			if !partSince(o, began) {
				return false
			}
			late++
			return sleep(wait)
		})
	}
	for i, due := range due {
		if late >= 3 {
			break
		}
		d := startDesk(t, o, nil, "--no-browser")
		var begun struct{ Tasks []string }
		if status := d.ask("/api/tasks", map[string]any{"kind": "ready", "jobs": []string{d.oneJob()}}, &begun); status != http.StatusOK {
			t.Fatalf("run %d: %d", i, status)
		}
		for end := time.Now().Add(20 * time.Second); !due() && d.unended() && time.Now().Before(end); time.Sleep(time.Millisecond) {
		}
		d.kill()
		l.proveStanding(t, o)
		if text, err := os.ReadFile(brief); err == nil && !bytes.HasSuffix(bytes.TrimSpace(text), []byte("%%EOF")) {
			t.Fatal("half a brief stands under its name")
		}
		if i > 4 { // pack again, so that there is something to write
			_ = os.Remove(o.packPath())
		}
	}
	var p packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &p) // the lock that the killed desk left is none
	if p.Requests != 0 || p.Verdict != check.Fit {
		t.Errorf("after all is stored: %+v", p)
	}
	if len(l.again) > 0 {
		t.Errorf("stored, and fetched again: %v", l.again)
	}
	if late < 1 {
		t.Errorf("no kill in writing: the test did not test")
	}
}

// unended reports whether the desk has a task that has not ended.
func (d *deskProcess) unended() bool {
	var all []struct{ Ended *time.Time }
	if d.ask("/api/tasks", nil, &all) != http.StatusOK {
		return false
	}
	for _, one := range all {
		if one.Ended == nil {
			return true
		}
	}
	return false
}

// A link is an address of this computer with the secret in its fragment, which no request carries.
func TestLinkOfTheDesk(t *testing.T) {
	o := newWorker(t)
	d := startDesk(t, o, nil, "--no-browser")
	u, err := url.Parse(d.origin)
	if err != nil || u.Hostname() != "127.0.0.1" || len(d.secret) < 43 {
		t.Errorf("%s %s %v", d.origin, d.secret, err)
	}
	if code, _, said := o.do("desk", "--listen", "0.0.0.0:0", "--no-browser"); code != 2 || !strings.Contains(said, "this computer alone") {
		t.Errorf("on all addresses: %d %s", code, said)
	}
	if code, _, said := o.do("desk", o.path("nothing"), "--no-browser"); code != 2 || !strings.Contains(said, "is no folder") {
		t.Errorf("a folder that is not there: %d %s", code, said)
	}
}

// TestKilledWriting kills the desk while a page changes job.toml as fast as it can: at all
// times the file is one of the whole texts, with its remarks, and the next desk goes on.
func TestKilledWriting(t *testing.T) {
	o := newWorker(t)
	text := "# A job with remarks.\nname = \"Valve 12\" # as on the order\nmargin = \"1ft\"\n\n[[around]]\ncenter = \"40.5,-140.5\" # the valve\nradius = \"80ft\"\n\n[[base]]\nsource = \"practice\"\n"
	path := o.write("site/job.toml", text)
	r := rand.New(rand.NewPCG(3, 3))
	margin, between := 1, 0
	for range 8 {
		d := startDesk(t, o, nil, "--no-browser")
		id := d.oneJob()
		stop := time.AfterFunc(30*time.Millisecond+time.Duration(r.IntN(40_000))*time.Microsecond, func() { _ = d.c.Process.Kill() })
		for n := 0; n < 10_000; n++ {
			var doc struct{ Etag string }
			if d.ask("/api/jobs/"+id, nil, &doc) != http.StatusOK {
				break
			}
			next := fmt.Sprintf("%dft", 1+(margin+1)%50)
			switch d.ask("/api/jobs/"+id+"/set", map[string]any{"etag": doc.Etag, "changes": []any{map[string]any{"key": "margin", "value": next}}}, nil) {
			case http.StatusOK:
				margin = (margin + 1) % 50
				between++
			case 0: // killed in it
			default:
				t.Fatal("a change was refused")
			}
		}
		stop.Stop()
		d.kill()
		now, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		whole := false
		for m := range 51 {
			if string(now) == strings.Replace(text, `"1ft"`, fmt.Sprintf(`"%dft"`, m), 1) {
				whole, margin = true, m-1
			}
		}
		if !whole {
			t.Fatalf("after a kill job.toml is\n%s", now)
		}
	}
	if between < 8 {
		t.Errorf("only %d changes: the test did not test", between)
	}
	if o.must(0, "plan", o.path("site")); job.Holder(o.path("site")) != "" {
		t.Error("the lock of a killed desk holds")
	}
}
