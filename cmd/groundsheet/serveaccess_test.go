package main

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"groundsheet/serve/auth"
	"groundsheet/tiles/practice"
)

// served is an office with a pack and a config folder of its own.
func served(t *testing.T) (o *worker, config string) {
	t.Helper()
	o = newWorker(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	o.must(0, "pack", o.path("site"))
	config = filepath.Join(o.dir, "config")
	t.Setenv("XDG_CONFIG_HOME", config) // where os.UserConfigDir looks
	t.Setenv("HOME", config)
	return o, config
}

// serveOnce runs serve until what it says is complete, and gives it; meet is called
// while it runs.
func serveOnce(t *testing.T, o *worker, meet func(out string), args ...string) string {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	out := &watched{until: []string{"is fit", "map: "}, reached: make(chan struct{})} // in any order
	var errs bytes.Buffer
	page := fstest.MapFS{}
	for _, name := range []string{"index.html", "join.html", "join.js", "join.css", "guard.js", "icon.svg", "apple-touch-icon.png"} {
		page[name] = &fstest.MapFile{Data: []byte("page")}
	}
	code := make(chan int, 1)
	go func() {
		a := &app{out: out, err: &errs, page: page}
		code <- a.run(ctx, append([]string{"serve", o.packPath(), "--listen", "127.0.0.1:0"}, args...))
	}()
	select {
	case <-out.reached:
		if meet != nil {
			meet(out.String())
		}
		cancel()
		if c := <-code; c != 0 {
			t.Fatalf("exit %d: %s", c, errs.String())
		}
	case c := <-code:
		t.Fatalf("exit %d: %s%s", c, out.String(), errs.String())
	}
	return out.String()
}

// watched closes reached when all texts have been written.
type watched struct {
	until   []string
	reached chan struct{}

	mu   sync.Mutex
	said bytes.Buffer
	told bool
}

func (w *watched) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	n, err := w.said.Write(p)
	lacks := func(text string) bool { return !strings.Contains(w.said.String(), text) }
	if !w.told && !slices.ContainsFunc(w.until, lacks) {
		w.told = true
		close(w.reached)
	}
	return n, err
}

func (w *watched) String() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.said.String()
}

func find(t *testing.T, pattern, in string) string {
	t.Helper()
	m := regexp.MustCompile(pattern).FindStringSubmatch(in)
	if m == nil {
		t.Fatalf("no %s in:\n%s", pattern, in)
	}
	return m[1]
}

// TestServeOpen: on loopback serve says no code and keeps nothing.
func TestServeOpen(t *testing.T) {
	o, config := served(t)
	out := serveOnce(t, o, nil)
	if strings.Contains(out, "code") || strings.Contains(out, ".local") || !strings.Contains(out, "map: http://127.0.0.1:") {
		t.Errorf("%s", out)
	}
	if _, err := os.Stat(config); err == nil {
		t.Error("something is kept")
	}
}

// TestServeCodes: serve says a code that lets in, in words, link and QR code; it is the
// same at the next start, and another after --new-codes.
func TestServeCodes(t *testing.T) {
	o, config := served(t)
	const codeLine = `(?m)^join code: (\d{3} \d{3} \d{3} \d{3})$`
	out := serveOnce(t, o, func(out string) {
		at, code := find(t, `(?m)^map: (http://\S+)/(?: \(.+\))?$`, out), find(t, codeLine, out)
		body, err := json.Marshal(map[string]string{"code": code})
		if err != nil {
			t.Fatal(err)
		}
		resp, err := http.Post(at+"/join", "application/json", bytes.NewReader(body)) //nolint:noctx // a test's own loopback
		if err != nil || resp.StatusCode != 200 {
			t.Errorf("%v %v", resp, err)
		}
		if resp, err := http.Get(at + "/packs.json"); err != nil || resp.StatusCode != 401 { //nolint:noctx // a test's own loopback
			t.Errorf("%v %v", resp, err)
		}
	}, "--always-ask", "--qr")
	code := find(t, codeLine, out)
	if link := find(t, `(?m)^join link: (\S+)$`, out); !strings.HasSuffix(link, "/join#"+strings.ReplaceAll(code, " ", "")) {
		t.Errorf("%s", link)
	}
	if !strings.Contains(out, "█▀▀▀▀▀█") || strings.Contains(out, "\x1b") {
		t.Errorf("%s", out)
	}
	if info, err := os.Stat(filepath.Join(config, "groundsheet", "gate.json")); err != nil || info.Mode().Perm()&0o077 != 0 {
		t.Errorf("%v", err)
	}
	again := serveOnce(t, o, nil, "--always-ask")
	if find(t, codeLine, again) != code || strings.Contains(again, "█") {
		t.Errorf("%s", again)
	}
	if renewed := serveOnce(t, o, nil, "--always-ask", "--new-codes"); find(t, codeLine, renewed) == code {
		t.Errorf("%s", renewed)
	}
	if own := serveOnce(t, o, nil, "--always-ask", "--join-code", "Lark water 1907", "--mark-code", "lark-water-1908"); !strings.Contains(own, "join code: larkwater1907\n") || !strings.Contains(own, "mark code: larkwater1908,") {
		t.Errorf("%s", own)
	}
	secure := serveOnce(t, o, nil, "--always-ask", "--https")
	if !strings.Contains(secure, "map: https://127.0.0.1:") || !strings.Contains(secure, "open http://127.0.0.1:") || len(find(t, `(?s)fingerprint:\n(.*?)join code`, secure)) < 95 {
		t.Errorf("%s", secure)
	}
}

// TestServeBadAccess: what cannot be is told before anything is kept.
func TestServeBadAccess(t *testing.T) {
	o, config := served(t)
	for name, c := range map[string]struct {
		args []string
		says string
	}{
		"short code":      {[]string{"--always-ask", "--join-code", "1234567"}, "12 to 64"},
		"weak code":       {[]string{"--always-ask", "--join-code", "111122221111"}, "too easy"},
		"the same twice":  {[]string{"--always-ask", "--join-code", "larkwater1907", "--mark-code", "larkwater1907"}, "give two"},
		"name of a place": {[]string{"--name", "crew 7"}, "--name"},
	} {
		code, out, errText := o.do(append([]string{"serve", o.packPath(), "--listen", "127.0.0.1:0"}, c.args...)...)
		if code != exitUse || !strings.Contains(errText, c.says) || strings.Contains(errText, "1234567") || strings.Contains(out, "join code") {
			t.Errorf("%s: exit %d %s%s", name, code, out, errText)
		}
	}
	if _, err := os.Stat(filepath.Join(config, "groundsheet")); err == nil {
		t.Error("something is kept")
	}
}

// TestReportGuessing: guessing is told when it begins and when it is over, and not each
// time somebody looks.
func TestReportGuessing(t *testing.T) {
	var out bytes.Buffer
	a := &app{out: &out}
	ctx, stop := context.WithCancel(t.Context())
	looks := 0
	a.reportGuessing(ctx, func() *auth.Guessing {
		switch looks++; {
		case looks > 20:
			stop()
			fallthrough
		case looks < 3, looks > 10:
			return nil
		}
		return &auth.Guessing{Wrong: 100 + looks, Addresses: 250, Busiest: "192.168.4.7", BusiestSent: 40}
	}, time.Millisecond)
	lines := strings.Split(strings.TrimSpace(out.String()), "\n")
	if len(lines) != 2 || !strings.HasPrefix(lines[0], "WARNING: ") || !strings.Contains(lines[0], "103 wrong codes from 250 addresses") ||
		!strings.Contains(lines[0], "40 of them from 192.168.4.7") || !strings.Contains(lines[1], "over: 110 wrong codes") {
		t.Errorf("%q", lines)
	}
}
