package listen

import (
	"bufio"
	"encoding/base64"
	"fmt"
	"groundsheet/serve/auth"
	"net/http"
	"strings"
	"testing"
)

// TestAttackNoCode: nobody without a code reads anything, whatever is asked and how.
func TestAttackNoCode(t *testing.T) {
	s := open(t, nil)
	for _, path := range []string{
		"/", "/packs.json", "/app.js", "/healthz", "/status", "/packs/x/tiles/16/1/1.png", "/join/", "/join/x", "/joinx", "/JOIN",
		"/join.html", "/session/", "/ca.crt", "/certificate", "/nowhere",
	} {
		for _, method := range strings.Split("GET, HEAD, OPTIONS, POST, PUT, PATCH, DELETE", ", ") {
			a := ask(t, method, s.url+path, "")
			if a.StatusCode != 401 || strings.Contains(a.body, secret) || a.Header.Get("Www-Authenticate") == "" {
				t.Errorf("%s %s: %s %q", method, path, a.Status, a.body)
			}
		}
		if a := ask(t, "GET", s.url+path, "", "Accept", "text/html,*/*", "User-Agent", "Mozilla/5.0"); a.StatusCode != 401 || !strings.Contains(a.body, "Join this map") ||
			!strings.Contains(a.Header.Get("Content-Security-Policy"), "default-src 'none'") || strings.HasPrefix(a.Header.Get("Www-Authenticate"), "Basic") {
			t.Errorf("a browser at %s: %s %v %q", path, a.Status, a.Header, a.body)
		}
	}
	if s.reached.Load() != 0 {
		t.Errorf("%d requests came through", s.reached.Load())
	}
}

// TestAttackPathTraversal: no spelling of a path gets past the handler.
func TestAttackPathTraversal(t *testing.T) {
	s := open(t, nil)
	for _, target := range []string{
		"/join/../packs.json", "/join/..%2fpacks.json", "/join%2f..%2fpacks.json", "/join/%2e%2e/packs.json", "//packs.json", "//join//..//packs.json",
		"/./join/../packs.json", "/join;/../packs.json", "/join\\..\\packs.json", "/packs/../../etc/passwd", "/packs/%2e%2e/%2e%2e/etc/passwd",
		"/join.css/../packs.json", "/join%00/../packs.json", "/join?/../packs.json#", "http://127.0.0.1/packs.json", "http://127.0.0.1/join/../packs.json", "*",
	} {
		c := raw(t, s)
		fmt.Fprintf(c, "GET %s HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n", target)
		resp, err := http.ReadResponse(bufio.NewReader(c), nil)
		if err != nil {
			t.Errorf("%s: %v", target, err)
			continue
		}
		resp.Body.Close()
		open := strings.HasPrefix(target, "/join?") && resp.StatusCode == 200 // the join page with a query
		if resp.StatusCode != 401 && resp.StatusCode != 400 && !open {
			t.Errorf("%s: %s", target, resp.Status)
		}
	}
	if s.reached.Load() != 0 {
		t.Errorf("%d requests came through", s.reached.Load())
	}
}

// TestAttackMethods: TRACE, which would send a cookie back, CONNECT and made-up
// methods are refused, also to who is in.
func TestAttackMethods(t *testing.T) {
	s := open(t, nil)
	in := session(t, s, viewerCode)
	for _, method := range []string{"TRACE", "CONNECT", "PROPFIND", "get", "DEBUG"} {
		a := ask(t, method, s.url+"/packs.json", "", "Cookie", in)
		if a.StatusCode != 405 || strings.Contains(a.body, "groundsheet=") || a.Header.Get("Allow") == "" {
			t.Errorf("%s: %s %q", method, a.Status, a.body)
		}
	}
	for _, method := range []string{"HEAD", "OPTIONS"} {
		if a := ask(t, method, s.url+"/packs.json", "", "Cookie", in); a.StatusCode != 200 {
			t.Errorf("%s: %s", method, a.Status)
		}
	}
	if a := ask(t, "HEAD", s.url+"/join", ""); a.StatusCode != 200 || a.body != "" {
		t.Errorf("HEAD /join: %s %q", a.Status, a.body)
	}
}

// basic is the header of a map program that sends a code as its password.
func basic(code string) string {
	return "Basic " + base64.StdEncoding.EncodeToString([]byte("gis:"+code))
}

// TestAttackBruteForce: wrong codes over the wire are slowed down, at every place
// that takes a code, and a right one is not told from a wrong one meanwhile.
func TestAttackBruteForce(t *testing.T) {
	for name, try := range map[string]func(*testServer, string) answer{
		"join page": func(s *testServer, code string) answer { return join(t, s, code) },
		"Basic": func(s *testServer, code string) answer {
			return ask(t, "GET", s.url+"/packs.json", "", "Authorization", basic(code))
		},
		"session": func(s *testServer, code string) answer {
			return ask(t, "GET", s.url+"/session", "", "Authorization", basic(code))
		},
		"forwarded": func(s *testServer, code string) answer {
			return join(t, s, code, "X-Forwarded-For", "10.0.0."+code[len(code)-1:], "Forwarded", "for=10.0.0.1")
		},
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t, nil)
			in := session(t, s, recorderCode)
			for i := range 20 {
				a := try(s, fmt.Sprintf("5551234567%02d", i))
				if a.StatusCode == 429 {
					if wait := a.Header.Get("Retry-After"); i < 5 || wait != "3" && wait != "2" {
						t.Errorf("after %d tries: wait %q", i, wait)
					}
				} else if i >= 5 {
					t.Errorf("try %d was looked at: %s", i, a.Status)
				}
			}
			if a := try(s, viewerCode); a.StatusCode != 429 || len(a.Cookies()) != 0 {
				t.Errorf("a right code while waiting: %s", a.Status)
			}
			if a := ask(t, "GET", s.url+"/packs.json", "", "Cookie", in); a.StatusCode != 200 {
				t.Errorf("who is in is locked out too: %s", a.Status)
			}
		})
	}
}

// TestAttackCSRF: a page of another site changes nothing, with a session or without.
func TestAttackCSRF(t *testing.T) {
	s := open(t, nil)
	in := session(t, s, recorderCode)
	before := s.reached.Load()
	for name, header := range map[string][]string{
		"another origin":            {"Origin", "http://evil.example"},
		"the same host, other port": {"Origin", "http://127.0.0.1:1"},
		"no origin":                 {"Origin", "null"},
		"told by the browser":       {"Sec-Fetch-Site", "cross-site"},
		"a neighboring site":        {"Sec-Fetch-Site", "same-site"},
	} {
		for _, method := range []string{"POST", "PUT", "PATCH", "DELETE"} {
			for _, path := range []string{"/marks", "/join", "/leave"} {
				a := ask(t, method, s.url+path, `{"code":"`+viewerCode+`"}`, append([]string{"Cookie", in, "Content-Type", "application/json"}, header...)...)
				if a.StatusCode != 403 || len(a.Cookies()) != 0 {
					t.Errorf("%s: %s %s: %s", name, method, path, a.Status)
				}
			}
		}
	}
	if s.reached.Load() != before {
		t.Error("a request came through")
	}
	// A form cannot send JSON: nobody is made to join by a link either.
	if a := ask(t, "POST", s.url+"/join", "code="+viewerCode, "Content-Type", "application/x-www-form-urlencoded"); a.StatusCode != 415 || len(a.Cookies()) != 0 {
		t.Errorf("a form: %s", a.Status)
	}
	if a := ask(t, "POST", s.url+"/marks", "x", "Cookie", in, "Origin", s.url, "Sec-Fetch-Site", "same-origin"); a.StatusCode != 200 {
		t.Errorf("the map's own page: %s %s", a.Status, a.body)
	}
}

// TestAttackDNSRebinding: a host name that is not the server's is refused, on an open
// handler as well, and before anything is read.
func TestAttackDNSRebinding(t *testing.T) {
	asking := open(t, func(o *Options) { o.Name, o.Auth.Hosts = "crew-7", []string{"map.crew.example", "10.9.8.7"} })
	loopback := open(t, func(o *Options) { o.Ask = false; o.Name = "crew-7" })
	if !loopback.Open || asking.Open {
		t.Fatal("who is open?")
	}
	port := asking.Addr.String()[strings.LastIndex(asking.Addr.String(), ":"):]
	for _, host := range []string{"evil.example", "evil.example" + port, "127.0.0.1.evil.example", "localhost.evil.example", "crew-7.local.evil.example", "203.0.113.9", "[2001:db8::1]", "connectivity.example", "127.0.0.1@evil.example", "0.0.0.0", "evil.example:x", ".", "local"} {
		for _, s := range []*testServer{asking, loopback} {
			for _, path := range []string{"/", "/join", "/join.js", "/session", "/packs.json"} {
				a := ask(t, "GET", s.url+path, "", "Host", host, "Cookie", "x=y")
				if a.StatusCode != 421 && a.StatusCode != 400 || strings.Contains(a.body, secret) || strings.Contains(a.body, "Join") {
					t.Errorf("%s %s: %s", host, path, a.Status)
				}
			}
		}
	}
	for _, host := range []string{"localhost", "LOCALHOST" + port, "127.0.0.1", "127.0.0.1:1", "[::1]", "crew-7.local", "Crew-7.local." + port} {
		if a := ask(t, "GET", loopback.url+"/packs.json", "", "Host", host); a.StatusCode != 200 {
			t.Errorf("%s: %s", host, a.Status)
		}
	}
	for _, host := range []string{"map.crew.example", "10.9.8.7" + port} {
		if a := ask(t, "GET", asking.url+"/join", "", "Host", host); a.StatusCode != 200 {
			t.Errorf("%s: %s", host, a.Status)
		}
	}
}

// TestAttackNoHost: HTTP/1.0 may leave the host out; then nothing is told.
func TestAttackNoHost(t *testing.T) {
	s := open(t, func(o *Options) { o.Ask = false })
	c := raw(t, s)
	fmt.Fprint(c, "GET /packs.json HTTP/1.0\r\n\r\n")
	resp, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil || resp.StatusCode != 421 {
		t.Errorf("%v %v", resp, err)
	}
}

// TestAttackOversizedPosts: a body beyond the limit is refused, told beforehand or not.
func TestAttackOversizedPosts(t *testing.T) {
	const limit = 1 << 20
	s := open(t, nil)
	in := session(t, s, recorderCode)
	for _, path := range []string{"/marks", "/join"} { // a body that is announced to be too long is not even sent
		c := raw(t, s)
		fmt.Fprintf(c, "POST %s HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: %s\r\nContent-Type: application/json\r\nContent-Length: %d\r\n\r\n", path, in, limit+1)
		if resp, err := http.ReadResponse(bufio.NewReader(c), nil); err != nil || resp.StatusCode != 413 {
			t.Errorf("%s: %v %v", path, resp, err)
		}
	}
	if a := ask(t, "POST", s.url+"/marks", strings.Repeat("x", limit), "Cookie", in); a.StatusCode != 200 {
		t.Errorf("just as long as allowed: %s", a.Status)
	}
	if a := ask(t, "POST", s.url+"/join", `{"code":"`+strings.Repeat("x", 2000)+`"}`, "Content-Type", "application/json"); a.StatusCode != 400 {
		t.Errorf("a long code: %s", a.Status)
	}
	c := raw(t, s)
	fmt.Fprintf(c, "POST /marks HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: %s\r\nTransfer-Encoding: chunked\r\n\r\n", in)
	for _, n := range []int{limit / 2, limit / 2, 1000} {
		fmt.Fprintf(c, "%x\r\n%s\r\n", n, strings.Repeat("x", n))
	}
	fmt.Fprint(c, "0\r\n\r\n")
	resp, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil || resp.StatusCode != 400 {
		t.Errorf("in pieces: %v %v", resp, err)
	}
	c = raw(t, s)
	fmt.Fprintf(c, "GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Large: %s\r\n\r\n", strings.Repeat("h", usualLimits.headerBytes+8192))
	if resp, err := http.ReadResponse(bufio.NewReader(c), nil); err != nil || resp.StatusCode != 431 {
		t.Errorf("large headers: %v %v", resp, err)
	}
}

// TestAttackOpenRedirect: joining sends nobody anywhere, whatever the request says.
func TestAttackOpenRedirect(t *testing.T) {
	s := open(t, nil)
	for _, query := range []string{"?to=http://evil.example", "?next=//evil.example", "?redirect=https:evil.example", "?return=/packs.json"} {
		a := ask(t, "POST", s.url+"/join"+query, `{"code":"`+viewerCode+`"}`, "Content-Type", "application/json", "Referer", "http://evil.example/")
		if a.StatusCode != 200 || a.Header.Get("Location") != "" || a.body != `{"role":"look"}`+"\n" {
			t.Errorf("%s: %s %v %q", query, a.Status, a.Header, a.body)
		}
		if a := ask(t, "GET", s.url+"/join"+query, ""); a.StatusCode != 200 || a.Header.Get("Location") != "" || strings.Contains(a.body, "evil") {
			t.Errorf("%s: %s", query, a.Status)
		}
	}
}

// TestAttackCodeInTheAddress: a code in a query or a path lets nobody in, so nobody
// gets used to writing it where it is logged.
func TestAttackCodeInTheAddress(t *testing.T) {
	s := open(t, nil)
	for _, path := range []string{"/packs.json?code=" + viewerCode, "/packs.json?join=" + viewerCode, "/join/" + viewerCode, "/" + viewerCode + "/packs.json"} {
		if a := ask(t, "GET", s.url+path, ""); a.StatusCode != 401 || len(a.Cookies()) != 0 {
			t.Errorf("%s: %s", path, a.Status)
		}
	}
}

// TestAttackSessionFixation: a phone that comes with somebody's token gets one of its own.
func TestAttackSessionFixation(t *testing.T) {
	s := open(t, nil)
	theirs := session(t, s, viewerCode)
	a := join(t, s, viewerCode, "Cookie", theirs)
	if len(a.Cookies()) != 1 || a.Cookies()[0].Name+"="+a.Cookies()[0].Value == theirs {
		t.Errorf("%v", a.Cookies())
	}
}

// TestAttackNewCodesEndSessions: over the wire, over a restart.
func TestAttackNewCodesEndSessions(t *testing.T) {
	dir := t.TempDir()
	made := func(o *Options) { o.Auth.ViewerCode, o.Auth.RecorderCode, o.Auth.Folder = "", "", dir }
	first := open(t, made)
	in := session(t, first, auth.FormatCode(first.ViewerCode))
	if err := first.stop(); err != nil {
		t.Fatal(err)
	}
	second := open(t, made)
	if a := ask(t, "GET", second.url+"/packs.json", "", "Cookie", in); a.StatusCode != 200 || second.ViewerCode != first.ViewerCode {
		t.Errorf("started again: %s", a.Status)
	}
	third := open(t, func(o *Options) { made(o); o.Auth.NewCodes = true })
	if a := ask(t, "GET", third.url+"/packs.json", "", "Cookie", in); a.StatusCode != 401 || third.ViewerCode == first.ViewerCode {
		t.Errorf("new codes: %s", a.Status)
	}
}

func TestCookieFlags(t *testing.T) {
	s := open(t, nil)
	c := join(t, s, viewerCode).Cookies()[0]
	if !c.HttpOnly || c.Secure || c.SameSite != http.SameSiteStrictMode || c.Path != "/" || c.Domain != "" || c.MaxAge != 7*24*3600 || c.Name != "groundsheet" {
		t.Errorf("%+v", c)
	}
	left := ask(t, "POST", s.url+"/leave", "{}", "Cookie", c.Name+"="+c.Value)
	gone := left.Cookies()
	if left.Header.Get("Clear-Site-Data") != `"cache", "storage"` {
		t.Errorf("leaving keeps the map on the phone: %v", left.Header)
	}
	if len(gone) != 1 || gone[0].MaxAge >= 0 || gone[0].Value != "" || gone[0].Name != c.Name {
		t.Errorf("leaving: %+v", gone)
	}
}

func TestRoles(t *testing.T) {
	s := open(t, nil)
	basic := func(user, code string) string {
		return "Basic " + base64.StdEncoding.EncodeToString([]byte(user+":"+code))
	}
	for _, c := range []struct {
		header []string
		role   string
	}{
		{[]string{"Cookie", session(t, s, viewerCode)}, "look"},
		{[]string{"Cookie", session(t, s, recorderCode)}, "mark"},
		{[]string{"Cookie", session(t, s, " 012-345 678901 ")}, "look"},
		{[]string{"Authorization", basic("", viewerCode)}, "look"},
		{[]string{"Authorization", basic("gis", "987 654 321 098")}, "mark"},
		{[]string{"Cookie", "groundsheet=stale; " + session(t, s, viewerCode)}, "look"}, // a cookie of another port's server beside it
	} {
		if a := ask(t, "GET", s.url+"/x", "", c.header...); a.StatusCode != 200 || a.body != secret+" "+c.role {
			t.Errorf("%v: %s %q", c.header, a.Status, a.body)
		}
		if a := ask(t, "GET", s.url+"/session", "", c.header...); a.body != `{"role":"`+c.role+"\"}\n" {
			t.Errorf("%v: %q", c.header, a.body)
		}
	}
	if a := ask(t, "GET", s.url+"/session", ""); a.StatusCode != 200 || a.body != "{\"role\":\"\"}\n" {
		t.Errorf("nobody: %s %q", a.Status, a.body)
	}
	opened := open(t, func(o *Options) { o.Ask = false })
	if a := ask(t, "GET", opened.url+"/x", ""); a.body != secret+" mark" {
		t.Errorf("on loopback: %q", a.body)
	}
	r, err := http.NewRequestWithContext(t.Context(), "GET", "/", nil)
	if err != nil || auth.RoleOf(r) != auth.Nobody {
		t.Error("a request that passed no handler has a role")
	}
}
