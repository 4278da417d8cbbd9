package listen

import (
	"bufio"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/binary"
	"errors"
	"fmt"
	"groundsheet/serve/auth"
	"io"
	"net"
	"net/http"
	"runtime"
	"strings"
	"testing"
	"time"
)

// impatient limits let a test see an end without waiting for it for long.
func impatient(o *Options) {
	o.limits = usualLimits
	o.limits.header, o.limits.read, o.limits.stop = 300*time.Millisecond, 600*time.Millisecond, time.Second
}

// closedWithin reads until the other side closes and gives what came.
func closedWithin(t *testing.T, c net.Conn, most time.Duration) string {
	t.Helper()
	if err := c.SetReadDeadline(time.Now().Add(most)); err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(c)
	var ne net.Error
	if errors.As(err, &ne) && ne.Timeout() {
		t.Fatalf("after %v it is still open", most)
	}
	return string(b)
}

// TestAttackSlowHeaders: who sends headers a byte at a time is let go, on both sides of
// a port that speaks HTTPS too.
func TestAttackSlowHeaders(t *testing.T) {
	for name, change := range map[string]func(*Options){"HTTP": impatient, "HTTPS": func(o *Options) { impatient(o); o.HTTPS = true }} {
		for _, begins := range []string{"", "G", "GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ", "\x16\x03\x01"} {
			t.Run(name+" "+strings.TrimSpace(begins), func(t *testing.T) {
				t.Parallel()
				s := open(t, change)
				c := raw(t, s)
				if _, err := io.WriteString(c, begins); err != nil {
					t.Fatal(err)
				}
				stop := make(chan struct{})
				defer close(stop)
				go func() {
					for {
						select {
						case <-stop:
							return
						case <-time.After(50 * time.Millisecond):
							if begins != "" {
								_, _ = io.WriteString(c, "a") // the server may have closed it
							}
						}
					}
				}()
				if got := closedWithin(t, c, 15*time.Second); strings.Contains(got, secret) {
					t.Errorf("%q", got)
				}
				if s.reached.Load() != 0 {
					t.Error("it came through")
				}
			})
		}
	}
}

// TestAttackSlowBody: a body that never ends does not hold its place.
func TestAttackSlowBody(t *testing.T) {
	s := open(t, impatient)
	in := session(t, s, recorderCode)
	c := raw(t, s)
	fmt.Fprintf(c, "POST /marks HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: %s\r\nContent-Length: 1000\r\n\r\nx", in)
	if got := closedWithin(t, c, 15*time.Second); strings.Contains(got, " 200 ") {
		t.Errorf("%q", got)
	}
}

// TestAttackIdleConnections: silent connections of strangers take no place from anybody: the
// oldest one goes for each that comes. Who waits for an answer is not cut off.
func TestAttackIdleConnections(t *testing.T) {
	for name, https := range map[string]bool{"HTTP": false, "HTTPS": true} {
		t.Run(name, func(t *testing.T) {
			s := &testServer{}
			running, answer := make(chan struct{}), make(chan struct{})
			inner := http.HandlerFunc(func(http.ResponseWriter, *http.Request) { running <- struct{}{}; <-answer })
			limit := usualLimits
			limit.conns, limit.connsReserved = 8, 2
			s.listen(t, inner, Options{Auth: auth.Options{ViewerCode: viewerCode, RecorderCode: recorderCode, Page: joinFS}, Ask: true, HTTPS: https, limits: limit})
			by := &http.Transport{}
			if https {
				by = trusting(t, s)
			}
			joined := askBy(t, by, "POST", s.url+"/join", `{"code":"`+viewerCode+`"}`, "Content-Type", "application/json")
			in := joined.Cookies()[0].Name + "=" + joined.Cookies()[0].Value
			got := make(chan int)
			go func() { got <- askBy(t, by, "GET", s.url+"/x", "", "Cookie", in).StatusCode }()
			<-running
			var held []net.Conn
			for range 40 {
				c := raw(t, s)
				fmt.Fprint(c, "G") // it is there, and says no more
				held = append(held, c)
				if a := ask(t, "GET", "http://"+s.Addr.String()+"/join.css", ""); a.StatusCode != 200 {
					t.Fatalf("somebody who comes now: %s", a.Status)
				}
			}
			for i, c := range held[:30] {
				if got := closedWithin(t, c, 5*time.Second); got != "" {
					t.Errorf("connection %d: %q", i, got)
				}
			}
			close(answer)
			if status := <-got; status != 200 {
				t.Errorf("who waited for an answer: %d", status)
			}
		})
	}
}

// trusting is a phone that installed the certificate which plain HTTP gave it.
func trusting(t *testing.T, s *testServer) *http.Transport {
	t.Helper()
	a := ask(t, "GET", "http://"+s.Addr.String()+"/ca.crt", "")
	ca, err := x509.ParseCertificate([]byte(a.body))
	if err != nil || a.StatusCode != 200 {
		t.Fatalf("%s: %v", a.Status, err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(ca)
	tr := &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS12}, ForceAttemptHTTP2: true}
	t.Cleanup(tr.CloseIdleConnections)
	return tr
}

func TestHTTPS(t *testing.T) {
	s := open(t, func(o *Options) { o.HTTPS = true; o.Auth.Folder = t.TempDir() })
	phone := trusting(t, s)
	if a := askBy(t, phone, "GET", s.url+"/packs.json", ""); a.StatusCode != 401 || a.ProtoMajor != 2 {
		t.Errorf("%s %s", a.Proto, a.Status)
	}
	a := askBy(t, phone, "POST", s.url+"/join", `{"code":"`+viewerCode+`"}`, "Content-Type", "application/json", "Origin", s.url)
	if a.StatusCode != 200 || len(a.Cookies()) != 1 {
		t.Fatalf("%s %s", a.Status, a.body)
	}
	c := a.Cookies()[0]
	if c.Name != "__Host-groundsheet" || !c.Secure || !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Path != "/" || c.Domain != "" {
		t.Errorf("%+v", c)
	}
	if a := askBy(t, phone, "GET", s.url+"/x", "", "Cookie", c.Name+"="+c.Value); a.body != secret+" look" || a.Header.Get("Strict-Transport-Security") != "" {
		t.Errorf("%s %q", a.Status, a.body)
	}
	if a := askBy(t, phone, "GET", s.url+"/x", "", "Cookie", "groundsheet"+"="+c.Value); a.StatusCode != 401 {
		t.Errorf("a cookie that plain HTTP could set: %s", a.Status)
	}
}

// TestBareHTTP: without TLS the port gives the certificate and the page about it, takes
// no code and gives nothing else.
func TestBareHTTP(t *testing.T) {
	s := open(t, func(o *Options) { o.HTTPS = true })
	bare := "http://" + s.Addr.String()
	joined := askBy(t, trusting(t, s), "POST", s.url+"/join", `{"code":"`+viewerCode+`"}`, "Content-Type", "application/json")
	if len(joined.Cookies()) != 1 {
		t.Fatal(joined.Status)
	}
	in := "groundsheet=" + joined.Cookies()[0].Value
	for _, path := range []string{"/packs.json", "/x", "/session", "/join.js", "/app.js"} {
		if a := ask(t, "GET", bare+path, "", "Cookie", in); a.StatusCode != 403 || strings.Contains(a.body, secret) {
			t.Errorf("%s: %s", path, a.Status)
		}
	}
	for _, path := range []string{"/", "/join", "/certificate"} {
		a := ask(t, "GET", bare+path, "")
		if a.StatusCode != 200 || !strings.Contains(strings.NewReplacer("<code>", "", "</code>\n", "").Replace(a.body), s.Fingerprint) || !strings.Contains(a.body, `href="https://`+s.Addr.String()+`/"`) || a.Header.Get("Location") != "" {
			t.Errorf("%s: %s %s", path, a.Status, a.body)
		}
	}
	if a := ask(t, "POST", bare+"/join", `{"code":"`+viewerCode+`"}`, "Content-Type", "application/json"); a.StatusCode != 426 || len(a.Cookies()) != 0 {
		t.Errorf("a code by plain HTTP: %s", a.Status)
	}
	if a := ask(t, "GET", bare+"/certificate", "", "Host", "evil.example"); a.StatusCode != 421 || strings.Contains(a.body, "evil") {
		t.Errorf("a strange host: %s %q", a.Status, a.body)
	}
	if s.reached.Load() != 0 {
		t.Error("a request came through")
	}
}

// TestEventStream: events come as they are written, and go on beyond the time an
// answer may take when their sender asks for it, over HTTP/1.1 and HTTP/2.
func TestEventStream(t *testing.T) {
	for name, https := range map[string]bool{"HTTP/1.1": false, "HTTP/2": true} {
		t.Run(name, func(t *testing.T) {
			s := &testServer{}
			limit := usualLimits
			limit.write = 300 * time.Millisecond
			next := make(chan struct{})
			inner := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				w.Header().Set("Content-Type", "text/event-stream")
				c := http.NewResponseController(w)
				_ = c.SetWriteDeadline(time.Time{})
				for i := range 3 {
					fmt.Fprintf(w, "data: %d\n\n", i)
					_ = c.Flush()
					<-next
				}
			})
			s.listen(t, inner, Options{Auth: auth.Options{Page: joinFS}, HTTPS: https, limits: limit})
			by := &http.Transport{}
			if https {
				by = trusting(t, s)
			}
			r, err := http.NewRequestWithContext(t.Context(), "GET", s.url+"/events", nil)
			if err != nil {
				t.Fatal(err)
			}
			resp, err := by.RoundTrip(r)
			if err != nil || resp.Proto[:6] != name[:6] {
				t.Fatalf("%v %v", resp, err)
			}
			defer resp.Body.Close()
			lines := bufio.NewScanner(resp.Body)
			for i := range 3 {
				if !lines.Scan() || lines.Text() != fmt.Sprintf("data: %d", i) {
					t.Fatalf("event %d: %q %v", i, lines.Text(), lines.Err())
				}
				lines.Scan()
				time.Sleep(250 * time.Millisecond)
				next <- struct{}{}
			}
		})
	}
}

// TestStopLeavesNothing: after the end there is no goroutine more than before.
func TestStopLeavesNothing(t *testing.T) {
	before := runtime.NumGoroutine()
	for _, https := range []bool{false, true} {
		s := open(t, func(o *Options) { impatient(o); o.HTTPS = https })
		c := raw(t, s) // one that says nothing
		ask(t, "GET", "http://"+s.Addr.String()+"/join.css", "")
		if err := s.stop(); err != nil {
			t.Error(err)
		}
		c.Close()
	}
	for end := time.Now().Add(15 * time.Second); runtime.NumGoroutine() > before; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			b := make([]byte, 1<<16)
			t.Fatalf("%d goroutines were %d:\n%s", runtime.NumGoroutine(), before, b[:runtime.Stack(b, true)])
		}
	}
}

func TestServeErrors(t *testing.T) {
	s := open(t, nil)
	for addr, want := range map[string]string{s.Addr.String(): "another server is running there", "203.0.113.7:1": "--listen"} {
		err := Serve(t.Context(), addr, http.NotFoundHandler(), Options{Auth: auth.Options{Page: joinFS}}, func(Access) {})
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", addr, err)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := Serve(ctx, "127.0.0.1:0", http.NotFoundHandler(), Options{Auth: auth.Options{Page: joinFS}}, func(Access) {}); err != nil && !errors.Is(err, context.Canceled) {
		t.Errorf("ended before it began: %v", err)
	}
}

// TestUncertifiedNotes: what the certificate does not hold for is told once, with what to do.
func TestUncertifiedNotes(t *testing.T) {
	notes := uncertifiedNotes([]string{"192.168.9.1", "crew-8.local", "203.0.113.9", "fd00::7"})
	if len(notes) != 2 || !strings.Contains(notes[0], "203.0.113.9, which is no private address") || !strings.Contains(notes[1], "192.168.9.1, crew-8.local: browsers warn") || !strings.Contains(notes[1], "--new-certificate") {
		t.Errorf("%q", notes)
	}
	if notes := uncertifiedNotes([]string{"2001:db8::1"}); len(notes) != 0 {
		t.Errorf("%q", notes)
	}
}

// TestStreamsOfOneConnection reads what the server says of HTTP/2 at the beginning (RFC 9113,
// 6.5.2: SETTINGS_MAX_CONCURRENT_STREAMS is 3).
func TestStreamsOfOneConnection(t *testing.T) {
	s := open(t, func(o *Options) { o.HTTPS = true })
	config := trusting(t, s).TLSClientConfig.Clone()
	config.NextProtos = []string{"h2"}
	c, err := (&tls.Dialer{Config: config}).DialContext(t.Context(), "tcp", s.Addr.String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := io.WriteString(c, "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n\x00\x00\x00\x04\x00\x00\x00\x00\x00"); err != nil {
		t.Fatal(err)
	}
	head := make([]byte, 9)
	if _, err := io.ReadFull(c, head); err != nil || head[3] != 4 {
		t.Fatalf("%v %x", err, head)
	}
	settings := make([]byte, int(head[1])<<8|int(head[2]))
	if _, err := io.ReadFull(c, settings); err != nil {
		t.Fatal(err)
	}
	told := uint32(0)
	for ; len(settings) >= 6; settings = settings[6:] {
		if binary.BigEndian.Uint16(settings) == 3 {
			told = binary.BigEndian.Uint32(settings[2:])
		}
	}
	if told != auth.MaxHTTP2StreamsPerConn {
		t.Errorf("%d streams at once", told)
	}
}
