package desk

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"

	"groundsheet/pack/office"
	"groundsheet/tiles/fault"
)

var wildcard = regexp.MustCompile(`\{[^}]+\}`)

// everyRoute asks each route of each slice, for a job that is there, and gives what answers otherwise
// than with a refusal, or says anything of the jobs.
func (o *opened) everyRoute(id string, edit ...func(*http.Request)) {
	o.t.Helper()
	if len(o.d.patterns) < 5 {
		o.t.Fatalf("only these routes: %v", o.d.patterns)
	}
	for _, pattern := range o.d.patterns {
		method, path, _ := strings.Cut(pattern, " ")
		path = strings.Replace(path, "{job}", id, 1)
		path = wildcard.ReplaceAllString(path, "1")
		var in any
		if method == http.MethodPost {
			in = map[string]any{}
		}
		status, body := o.ask(path, in, edit...)
		if status != http.StatusForbidden && status != http.StatusMisdirectedRequest {
			o.t.Errorf("%s answers %d: %s", pattern, status, body)
		}
		if bytes.Contains(body, []byte("Valve")) || bytes.Contains(body, []byte(o.dir)) || bytes.Contains(body, []byte(o.secret)) {
			o.t.Errorf("%s tells a stranger: %s", pattern, body)
		}
	}
}

func (o *opened) files() map[string]string {
	all := map[string]string{}
	_ = filepath.WalkDir(o.dir, func(path string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			text, _ := os.ReadFile(path)
			all[path] = string(text)
		}
		return err
	})
	return all
}

// stranger runs a test with a desk that has a job, and proves that its files are as before.
func stranger(t *testing.T, do func(o *opened, id string)) {
	o := open(t)
	_, id := o.job("site", someJob)
	before := o.files()
	do(o, id)
	if after := o.files(); len(after) != len(before) {
		t.Errorf("there were %d files, there are %d", len(before), len(after))
	} else {
		for path, text := range before {
			if after[path] != text {
				t.Errorf("%s was changed", path)
			}
		}
	}
	if len(o.d.tasks.list()) > 0 {
		t.Error("a task was started")
	}
}

// Another user of the computer reaches the port, and does not know the secret.
func TestSecondUserWithoutTheSecret(t *testing.T) {
	stranger(t, func(o *opened, id string) {
		for _, given := range []string{"", "x", o.secret[:42], o.secret + "x", strings.ToUpper(o.secret)} {
			o.everyRoute(id, func(r *http.Request) { r.Header.Set(secretHeader, given) })
		}
		o.everyRoute(id, func(r *http.Request) { r.Header.Del(secretHeader) })
		o.everyRoute(id, func(r *http.Request) { // in other places than its own
			r.Header.Del(secretHeader)
			r.Header.Set("Cookie", secretHeader+"="+o.secret)
			r.Header.Set("Authorization", "Bearer "+o.secret)
			r.URL.RawQuery = secretHeader + "=" + o.secret
		})
	})
}

// A link of an earlier start opens nothing.
func TestStaleLink(t *testing.T) {
	earlier := open(t)
	earlier.stop()
	stranger(t, func(o *opened, id string) {
		if o.secret == earlier.secret {
			t.Fatal("two starts have one secret")
		}
		o.everyRoute(id, func(r *http.Request) { r.Header.Set(secretHeader, earlier.secret) })
	})
}

// A page of another origin, even one that had the secret.
func TestAnotherOrigin(t *testing.T) {
	stranger(t, func(o *opened, id string) {
		for _, origin := range []string{"https://maps.example", "null", "http://127.0.0.1:1", strings.Replace(o.origin, "http:", "https:", 1),
			strings.Replace(o.origin, "127.0.0.1", "localhost", 1), o.origin + ".example", ""} {
			o.everyRoute(id, func(r *http.Request) { r.Header.Set("Origin", origin) })
		}
		o.everyRoute(id, func(r *http.Request) { r.Header["Origin"] = []string{o.origin, "https://maps.example"} })
	})
}

// A page in another tab: the browser says from where it asks, and adds nothing of ours.
func TestAnotherTab(t *testing.T) {
	stranger(t, func(o *opened, id string) {
		for _, site := range []string{"cross-site", "same-site", "none"} {
			o.everyRoute(id, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", site) })
		}
		// asked beforehand whether it may send the header, the desk does not say so (Fetch, CORS preflight)
		r, err := http.NewRequest(http.MethodOptions, o.origin+"/api/jobs", http.NoBody)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Origin", "https://maps.example")
		r.Header.Set("Access-Control-Request-Method", "POST")
		r.Header.Set("Access-Control-Request-Headers", "groundsheet-desk,content-type")
		resp, err := http.DefaultTransport.RoundTrip(r)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if resp.StatusCode < 400 || resp.Header.Get("Access-Control-Allow-Origin") != "" {
			t.Errorf("a preflight is answered with %d %v", resp.StatusCode, resp.Header)
		}
		// what a form can send
		for _, media := range []string{"", "text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"} {
			status, _ := o.ask("/api/tasks", map[string]any{}, func(r *http.Request) { r.Header.Set("Content-Type", media) })
			if status != http.StatusUnsupportedMediaType {
				t.Errorf("a body of type %q is answered with %d", media, status)
			}
		}
		// a change without an origin is not made by a page
		if status, _ := o.ask("/api/tasks", map[string]any{}, func(r *http.Request) { r.Header.Del("Origin") }); status != http.StatusForbidden {
			t.Errorf("a change without an origin is answered with %d", status)
		}
	})
}

// A name of another site that was made to lead to this computer is another host.
func TestRebinding(t *testing.T) {
	stranger(t, func(o *opened, id string) {
		port := o.origin[strings.LastIndexByte(o.origin, ':'):]
		for _, host := range []string{"maps.example" + port, "localhost" + port, "127.0.0.1", "127.0.0.1:1", "[::1]" + port, "127.0.0.1" + port + ".example"} {
			o.everyRoute(id, func(r *http.Request) { r.Host = host })
			if status, body := o.ask("/", nil, func(r *http.Request) { r.Host = host }); status != http.StatusMisdirectedRequest {
				t.Errorf("%s: the page answers %d %s", host, status, body)
			}
		}
	})
}

// What every answer says to browsers, whether it is a page, data or a refusal.
func TestPolicies(t *testing.T) {
	stranger(t, func(o *opened, id string) {
		for _, path := range []string{"/", "/desk.js", "/nothing", "/api/jobs", "/api/jobs/" + id, "/api/nothing"} {
			for _, secret := range []string{o.secret, ""} {
				r, err := http.NewRequest(http.MethodGet, o.origin+path, http.NoBody)
				if err != nil {
					t.Fatal(err)
				}
				r.Header.Set(secretHeader, secret)
				resp, err := http.DefaultTransport.RoundTrip(r)
				if err != nil {
					t.Fatal(err)
				}
				resp.Body.Close()
				h := resp.Header
				for name, want := range map[string]string{
					"Cross-Origin-Resource-Policy": "same-origin", "Cross-Origin-Opener-Policy": "same-origin",
					"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer",
				} {
					if got := h.Get(name); got != want {
						t.Errorf("%s: %s is %q", path, name, got)
					}
				}
				for _, want := range []string{"default-src 'none'", "script-src 'self'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'none'"} {
					if !strings.Contains(h.Get("Content-Security-Policy"), want) {
						t.Errorf("%s: the policy lacks %s", path, want)
					}
				}
				if strings.Contains(h.Get("Content-Security-Policy"), "unsafe") || h.Get("Set-Cookie") != "" || h.Get("Access-Control-Allow-Origin") != "" {
					t.Errorf("%s: %v", path, h)
				}
				if strings.HasPrefix(path, "/api/") && h.Get("Cache-Control") != "no-store" {
					t.Errorf("%s may be kept", path)
				}
			}
		}
	})
}

// The desk is not for other computers.
func TestOnlyOnLoopback(t *testing.T) {
	s, err := New(office.Office{}, Options{Config: t.TempDir(), Page: fstest.MapFS{"index.html": {Data: []byte("x")}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, address := range []string{"0.0.0.0:0", ":0", "[::]:0", "192.0.2.1:0", "localhost:0", "maps.example:80", "127.0.0.1", ""} {
		ctx, stop := context.WithCancel(context.Background())
		stop()
		err := s.Listen(ctx, address, func(link string) { t.Errorf("%q: it listens: %s", address, link) })
		var f *fault.Fault
		if !errors.As(err, &f) || f.Remedy == "" || fault.IsOutside(err) {
			t.Errorf("%q: %v", address, err)
		}
	}
}
