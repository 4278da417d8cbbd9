package fetch_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"io"
	"math/big"
	randv2 "math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"groundsheet/tiles/fetch"
	"groundsheet/tiles/measure"
)

// A server that sends a byte now and then is given up when the time for one
// request is over, and nothing of it is kept.
func TestSlowDrip(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Length", strconv.Itoa(len(plain)))
		for _, b := range plain {
			if _, err := w.Write([]byte{b}); err != nil || r.Context().Err() != nil {
				return
			}
			w.(http.Flusher).Flush()
			time.Sleep(20 * time.Millisecond)
		}
	})
	s := shelf(t)
	o := quick()
	o.Timeout, o.Attempts = 300*time.Millisecond, 2
	_, err := run(h.fast(), s, row(1), o)
	says(t, err, "no whole answer within 1 s", "(2 times)")
	if len(held(t, s)) != 0 {
		t.Error("a part was kept")
	}
}

// A server that stops in the middle and keeps the connection open.
func TestStallInTheBody(t *testing.T) {
	var n atomic.Int32
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Length", strconv.Itoa(len(plain)))
		if n.Add(1) > 1 {
			w.Write(plain)
			return
		}
		w.Write(plain[:len(plain)/2])
		w.(http.Flusher).Flush()
		<-r.Context().Done()
	})
	s := shelf(t)
	o := quick()
	o.Timeout = 2 * time.Second
	tally, err := run(h.fast(), s, row(1), o)
	if err != nil || tally.New != 1 || tally.Retries != 1 || !bytes.Equal(held(t, s)[0].Data, plain) {
		t.Errorf("%+v, %v", tally, err)
	}
}

// A connection that is reset, not closed: the rest of the answer is lost.
func TestReset(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		conn, _, err := w.(http.Hijacker).Hijack()
		if err != nil {
			panic(err)
		}
		io.WriteString(conn, "HTTP/1.1 200 OK\r\nContent-Length: 100000\r\n\r\n"+string(plain[:50]))
		conn.(*net.TCPConn).SetLinger(0) // close sends a reset
		conn.Close()
	})
	s := shelf(t)
	o := quick()
	o.Attempts = 2
	_, err := run(h.fast(), s, row(1), o)
	says(t, err, "20/0/0", "(2 times)")
	if len(held(t, s)) != 0 {
		t.Error("a part was kept")
	}
}

// 2 GB of zeros in 2 MB: refused by its name, never unpacked.
func TestPackedBomb(t *testing.T) {
	var bomb bytes.Buffer
	z := gzip.NewWriter(&bomb)
	zeros := make([]byte, 1<<20)
	for range 64 {
		z.Write(zeros)
	}
	z.Close()
	for _, c := range []struct{ name, header, why string }{
		{"said", "gzip", "packed (gzip)"},
		{"another", "evil", "packed (another way)"},
		{"not said", "", "gzip data"},
	} {
		t.Run(c.name, func(t *testing.T) {
			h := serve(t, func(w http.ResponseWriter, r *http.Request) {
				if c.header != "" {
					w.Header().Set("Content-Encoding", c.header)
				}
				w.Write(bomb.Bytes())
			})
			s := shelf(t)
			o := quick()
			o.Attempts = 1
			_, err := run(h.fast(), s, row(1), o)
			says(t, err, c.why)
			if len(held(t, s)) != 0 {
				t.Error("something was kept")
			}
		})
	}
}

// chunk is one of a PNG (PNG 3rd edition, 5.3).
func chunk(kind string, body []byte) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	out = append(append(out, kind...), body...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}

// A PNG of a hundred bytes that declares 60,000×60,000 pixels, 14 GB when
// decoded.
func TestPixelBomb(t *testing.T) {
	header := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, 60000), 60000)
	bomb := slices.Concat([]byte("\x89PNG\r\n\x1a\n"), chunk("IHDR", append(header, 8, 6, 0, 0, 0)), chunk("IDAT", []byte{1}), chunk("IEND", nil))
	h := serve(t, sends(bomb))
	s := shelf(t)
	o := quick()
	o.Attempts = 1
	_, err := run(h.fast(), s, row(1), o)
	says(t, err, "256×256 expected, 60000×60000 came")
	if len(held(t, s)) != 0 {
		t.Error("something was kept")
	}
}

// Three of ten answers are a 5xx. Every tile arrives, perhaps over some runs,
// and retries stay within their budget.
func TestRandomFailures(t *testing.T) {
	var mu sync.Mutex
	dice := randv2.New(randv2.NewPCG(1, 2))
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		mu.Lock()
		bad, which := dice.IntN(10) < 3, dice.IntN(4)
		mu.Unlock()
		if bad {
			w.WriteHeader([]int{500, 502, 503, 504}[which])
			return
		}
		w.Write(plain)
	})
	s := shelf(t)
	wants := row(500)
	for n := 1; ; n++ {
		tally, err := run(h.fast(), s, missing(t, s, wants), quick())
		if tally.Retries > 20+tally.Requests/2 {
			t.Errorf("%+v: too many retries", tally)
		}
		if err == nil {
			t.Logf("all arrived after %d runs", n)
			break
		}
		var inc *fetch.Incomplete
		if !errors.As(err, &inc) || n > 8 {
			t.Fatalf("run %d: %+v, %v", n, tally, err)
		}
	}
	if got := held(t, s); len(got) != 500 {
		t.Errorf("%d held", len(got))
	}
}

// A server that answers 429 to everything beyond a rate that is far below the
// stated one. The run slows down to it, gets everything, and never storms.
func TestTooFastStorm(t *testing.T) {
	const sustains = 40.0
	var mu sync.Mutex
	last, tokens, refused := time.Now(), 5.0, 0
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		mu.Lock()
		now := time.Now()
		tokens = min(tokens+now.Sub(last).Seconds()*sustains, 5)
		last = now
		ok := tokens >= 1
		if ok {
			tokens--
		} else {
			refused++
		}
		mu.Unlock()
		if !ok {
			w.WriteHeader(429)
			return
		}
		w.Write(plain)
	})
	src := h.fast()
	src.Terms.RequestsPerSecond = 500
	s := shelf(t)
	o := quick()
	o.Backoff, o.Attempts = 20*time.Millisecond, 8
	tally, err := run(src, s, row(100), o)
	if err != nil || tally.New != 100 || refused == 0 || refused > 50 {
		t.Errorf("%+v, %d answers of 429, %v", tally, refused, err)
	}
}

// A server that answers 429 for ever is left alone soon, and what came stays.
func TestTooFastForEver(t *testing.T) {
	var n atomic.Int32
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		if n.Add(1) > 20 {
			w.WriteHeader(429)
			return
		}
		w.Write(plain)
	})
	src := h.fast()
	src.Terms.RequestsPerSecond = 5000
	s := shelf(t)
	tally, err := run(src, s, row(2000), quick())
	stoppedFor(t, err, fetch.StopRow, "429")
	if tally.New != 20 || len(held(t, s)) != 20 || tally.Requests > 100 {
		t.Errorf("%+v", tally)
	}
}

// Most answers are good, but too many have to be asked for again: the run
// stops before it becomes a burden.
func TestRetriesHaveABudget(t *testing.T) {
	var mu sync.Mutex
	asked := map[string]int{}
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		mu.Lock()
		asked[r.URL.Path]++
		good := asked[r.URL.Path] == 4
		mu.Unlock()
		if !good {
			w.WriteHeader(500)
			return
		}
		w.Write(plain)
	})
	s := shelf(t)
	tally, err := run(h.fast(), s, row(500), quick())
	stoppedFor(t, err, fetch.StopRetries, "had to be sent again", "500 Internal Server Error")
	if tally.New == 0 || tally.New > 40 || tally.New != len(held(t, s)) {
		t.Errorf("%+v, %d held", tally, len(held(t, s)))
	}
}

// certificate makes one for 127.0.0.1 that ended at a time.
func certificate(t *testing.T, ended time.Time) (tls.Certificate, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	form := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "county tiles"},
		NotBefore: ended.Add(-365 * 24 * time.Hour), NotAfter: ended,
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	der, err := x509.CreateCertificate(rand.Reader, form, form, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	parsed, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(parsed)
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, pool
}

func TestExpiredCertificate(t *testing.T) {
	for _, ended := range []time.Duration{-time.Hour, time.Hour} {
		cert, pool := certificate(t, time.Now().Add(ended))
		h := serve(t, sends(plain))
		secure := httptest.NewUnstartedServer(h.Config.Handler)
		secure.TLS = &tls.Config{Certificates: []tls.Certificate{cert}}
		secure.Config.ErrorLog = quietLog()
		secure.StartTLS()
		h.URL = secure.URL
		o := quick()
		o.Client = &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}}}
		s := shelf(t)
		tally, err := run(h.fast(), s, row(5), o)
		if ended > 0 {
			if err != nil || tally.New != 5 {
				t.Errorf("valid: %+v, %v", tally, err)
			}
		} else {
			stoppedFor(t, err, fetch.StopTLS, "certificate has expired", "clock")
			if len(held(t, s)) != 0 || h.requests() != 0 {
				t.Error("a request went to a host that proved nothing")
			}
		}
		o.Client.CloseIdleConnections()
		secure.Close()
	}
}

// nowhere is a name server on loopback that knows no name at all.
func nowhere(t *testing.T) *net.Resolver {
	t.Helper()
	conn, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	go func() {
		buf := make([]byte, 1500)
		for {
			n, from, err := conn.ReadFrom(buf)
			if err != nil {
				return
			}
			// The question comes back as an answer (RFC 1035, 4.1.1) with the
			// response code 3, no such name.
			buf[2], buf[3] = buf[2]|0x80, 0x83
			conn.WriteTo(buf[:n], from)
		}
	}()
	return &net.Resolver{PreferGo: true, Dial: func(ctx context.Context, _, _ string) (net.Conn, error) {
		var d net.Dialer
		return d.DialContext(ctx, "udp", conn.LocalAddr().String())
	}}
}

func TestUnknownHostName(t *testing.T) {
	h := serve(t, sends(plain))
	src := h.fast()
	src.URL = "http://tiles.county.example/{z}/{x}/{y}.png"
	o := quick()
	o.Client = &http.Client{Transport: &http.Transport{DialContext: (&net.Dialer{Resolver: nowhere(t)}).DialContext}}
	o.Attempts = 2
	tally, err := run(src, shelf(t), row(100), o)
	stoppedFor(t, err, fetch.StopUnreachable, "cannot be looked up", "tiles.county.example", "no such host")
	if tally.Requests > 20 || tally.New != 0 {
		t.Errorf("%+v", tally)
	}
}

// A server whose clock is off, by a day or by half a century: what it sends is
// kept, for no shorter and no longer than its own words and the terms say, and
// is not asked for at every run.
func TestServerClockIsOff(t *testing.T) {
	for name, off := range map[string]time.Duration{
		"a day behind": -24 * time.Hour, "a day ahead": 24 * time.Hour, "in 1970": -56 * 365 * 24 * time.Hour, "far ahead": 50 * 365 * 24 * time.Hour,
	} {
		t.Run(name, func(t *testing.T) {
			h := serve(t, func(w http.ResponseWriter, r *http.Request) {
				theirs := time.Now().Add(off).UTC()
				w.Header().Set("Date", theirs.Format(http.TimeFormat))
				w.Header().Set("Expires", theirs.Add(48*time.Hour).Format(http.TimeFormat))
				w.Header().Set("Last-Modified", theirs.Add(-time.Hour).Format(http.TimeFormat))
				w.Write(plain)
			})
			src := h.fast()
			src.Terms.KeepAtLeast = measure.Age(6 * time.Hour)
			s := shelf(t)
			before := time.Now()
			if _, err := run(src, s, row(1), quick()); err != nil {
				t.Fatal(err)
			}
			fresh := held(t, s)[0].FreshUntil.Sub(before)
			if fresh < 6*time.Hour || fresh > 48*time.Hour+time.Minute {
				t.Errorf("fresh for %v", fresh)
			}
			if off == 24*time.Hour && fresh < 47*time.Hour {
				t.Errorf("fresh for %v: Expires counts from the server's own Date", fresh)
			}
		})
	}
}
