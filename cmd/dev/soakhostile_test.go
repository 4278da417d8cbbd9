//go:build soak

package main

import (
	"context"
	"crypto/tls"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"
)

// hostileCode is the join code of the field server that hostile phones come to.
const hostileCode = "480263917552"

// hostileReadings is how many readings its large record has.
const hostileReadings = 60_000

// What honest phones may expect beside a hostile one. The project's own choice, no source.
const (
	hostileWithin = 100 * time.Millisecond // 99 of 100 tiles
	hostileMemory = 256_000_000            // bytes that the server takes of its own, at most
	hostileJoin   = 3 * time.Second        // a newcomer, with the right code
)

// hostileRun is a field server that asks for a code, by HTTPS, and who comes to it.
type hostileRun struct {
	base  string
	large string // address of the whole large record
	near  string // of its records by place
	tiles soakTiles
	pack  string
}

// hostileResult is what honest phones and newcomers met beside one kind of hostile phone.
type hostileResult struct {
	kind            string
	tally           *soakTally
	memory          int64
	came, let       int
	slowest         time.Duration
	did             int64 // what the hostile phone got done
	half, nearlyAll time.Duration
}

// soakBeside serves a pack with a large record, behind a code, to honest phones beside one hostile
// phone of each kind in turn. A table shows how quick the answers to honest phones were, what
// memory the server took and how many newcomers came in.
func soakBeside(ctx context.Context, r repo) (err error) {
	d := demoRun{repo: r, dir: r.path(".cache", "soakhostile"), quiet: os.Stderr}
	d.extra = []string{"XDG_CONFIG_HOME=" + filepath.Join(d.dir, "config")} // its codes and keys are none of the user's
	running, err := d.prepare(ctx)
	if err != nil {
		return err
	}
	if err = d.manyReadings(hostileReadings); err == nil {
		err = r.runIn(ctx, r.root, d.env(), r.program(), "pack", d.site())
	}
	if err := errors.Join(err, running.Close()); err != nil {
		return err
	}
	step("groundsheet serve, %d phones beside a hostile one of each kind, %s each", *soakPhones, *soakHostile)
	server, err := d.startServing(ctx, d.pack(), "--listen", "127.0.0.1:0", "--always-ask", "--https", "--name", "", "--join-code", hostileCode)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, server.stop()) }()
	h := hostileRun{base: server.base}
	if err := h.lookUp(ctx); err != nil {
		return err
	}
	var all []hostileResult
	for _, kind := range hostileKinds {
		one, err := h.beside(ctx, kind)
		if err != nil {
			return err
		}
		if len(all) > 0 && one.slow(all[0]) { // other work on this machine looks the same, but not twice
			again, err := h.beside(ctx, kind)
			if err != nil {
				return err
			}
			if again.nearlyAll < one.nearlyAll {
				one = again
			}
		}
		all = append(all, one)
	}
	tellHostile(all)
	return errors.Join(hostileFaults(all)...)
}

// lookUp finds the addresses that hostile phones ask.
func (h *hostileRun) lookUp(ctx context.Context) error {
	t := &soakTally{}
	p, err := h.joinFrom(ctx, "127.0.0.1", t)
	if err != nil {
		return err
	}
	defer p.http.CloseIdleConnections()
	var packs struct {
		Packs []struct{ ID, About string }
	}
	if err := p.document(ctx, h.base+"/packs.json", &packs); err != nil {
		return err
	}
	h.pack = packs.Packs[0].ID
	var overlays struct {
		Overlays []struct{ URL, TileJSON, Near string }
	}
	if err := p.document(ctx, h.base+"/packs/"+h.pack+"/overlays.json", &overlays); err != nil {
		return err
	}
	for _, o := range overlays.Overlays {
		if o.TileJSON == "" {
			continue
		}
		h.large = h.base + o.URL
		h.near = h.base + o.Near + "&near=-140.49674,40.49860&within=100000"
		if _, err := p.get(ctx, h.near); err != nil { // its index is ready after that
			return err
		}
	}
	if h.large == "" {
		return errors.New("the pack has no large record")
	}
	return p.document(ctx, h.base+"/packs/"+h.pack+"/tilejson.json", &h.tiles)
}

// wayFrom sends from an address of this machine. Certificates are proved elsewhere.
func wayFrom(from string) *http.Transport {
	d := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}, Timeout: 10 * time.Second}
	return &http.Transport{
		DialContext: d.DialContext, ForceAttemptHTTP2: true, DisableCompression: true, MaxIdleConnsPerHost: 6,
		TLSClientConfig: &tls.Config{InsecureSkipVerify: true, MinVersion: tls.VersionTLS12}, //nolint:gosec // this machine's own server
	}
}

// withCookie puts the session on each request.
type withCookie struct {
	http.RoundTripper
	cookie string
}

// RoundTrip sends a request with the session.
func (w withCookie) RoundTrip(r *http.Request) (*http.Response, error) {
	r = r.Clone(r.Context())
	r.Header.Set("Cookie", w.cookie)
	return w.RoundTripper.RoundTrip(r)
}

// CloseIdleConnections closes what rests.
func (w withCookie) CloseIdleConnections() {
	if c, ok := w.RoundTripper.(interface{ CloseIdleConnections() }); ok {
		c.CloseIdleConnections()
	}
}

// say sends a code from somewhere; cookie is the session of who is in then.
func (h *hostileRun) say(ctx context.Context, by http.RoundTripper, code string) (status int, cookie string, err error) {
	body, err := json.Marshal(map[string]string{"code": code})
	if err != nil {
		return 0, "", err
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, h.base+"/join", strings.NewReader(string(body)))
	if err != nil {
		return 0, "", err
	}
	req.Header.Set("Content-Type", "application/json")
	resp, err := by.RoundTrip(req)
	if err != nil {
		return 0, "", err
	}
	defer resp.Body.Close()
	for _, c := range resp.Cookies() {
		cookie = c.Name + "=" + c.Value
	}
	return resp.StatusCode, cookie, nil
}

var phonesMade atomic.Int64

// joinFrom makes a phone that is in.
func (h *hostileRun) joinFrom(ctx context.Context, from string, t *soakTally) (*phone, error) {
	way := wayFrom(from)
	status, cookie, err := h.say(ctx, way, hostileCode)
	if err != nil {
		return nil, err
	}
	if status != http.StatusOK {
		return nil, fmt.Errorf("joining from %s: %s", from, http.StatusText(status))
	}
	p := newPhone(h.base, int(phonesMade.Add(1)), t)
	p.tags = map[string]string{}
	p.http = &http.Client{Timeout: time.Minute, Transport: withCookie{way, cookie}}
	return p, nil
}

// beside lets honest phones and newcomers come beside one kind of hostile phone.
func (h *hostileRun) beside(ctx context.Context, kind hostileKind) (hostileResult, error) {
	r := hostileResult{kind: kind.name, tally: &soakTally{}}
	var honest []*phone
	for n := range *soakPhones {
		p, err := h.joinFrom(ctx, fmt.Sprintf("127.0.2.%d", n+1), r.tally)
		if err != nil {
			return r, err
		}
		honest = append(honest, p)
	}
	watcher, err := h.joinFrom(ctx, "127.0.0.1", &soakTally{})
	if err != nil {
		return r, err
	}
	short, cancel := context.WithTimeout(ctx, *soakHostile)
	defer cancel()
	var all sync.WaitGroup
	var did atomic.Int64
	kind.run(short, h, &all, &did)
	pause(short, *soakHostile/10) // it is at it when the others come
	for _, p := range honest {
		all.Go(func() {
			defer p.http.CloseIdleConnections()
			for short.Err() == nil {
				if err := p.lookAbout(short, h.tiles, h.pack); err != nil && short.Err() == nil {
					r.tally.fault("%s: %v", kind.name, err)
					pause(short, time.Second)
				}
			}
		})
	}
	all.Go(func() { h.newcomers(short, &r) })
	for ; short.Err() == nil; pause(short, 250*time.Millisecond) {
		var s soakState
		if err := watcher.document(short, h.base+"/status.json", &s); err == nil {
			r.memory = max(r.memory, s.Process.Memory)
		}
	}
	all.Wait()
	watcher.http.CloseIdleConnections()
	r.did = did.Load()
	slices.Sort(r.tally.slow)
	if n := len(r.tally.slow); n > 0 {
		r.half, r.nearlyAll = r.tally.slow[n/2], r.tally.slow[min(n*99/100, n-1)]
	}
	return r, ctx.Err()
}

// newcomers come with the right code, each from an address that nobody had.
func (h *hostileRun) newcomers(ctx context.Context, r *hostileResult) {
	for ; ctx.Err() == nil; pause(ctx, *soakHostile/12) {
		r.came++
		from := fmt.Sprintf("127.0.%d.%d", 10+phonesMade.Add(1)/250, phonesMade.Load()%250+1)
		way, began := wayFrom(from), time.Now()
		status, _, err := h.say(context.WithoutCancel(ctx), way, hostileCode)
		took := time.Since(began)
		way.CloseIdleConnections()
		r.slowest = max(r.slowest, took)
		if err == nil && status == http.StatusOK && took <= hostileJoin {
			r.let++
		}
	}
}

func tellHostile(all []hostileResult) {
	fmt.Printf("%-24s %9s %9s %9s %12s %12s %9s\n", "beside", "half of", "99 of 100", "server", "newcomers", "slowest", "hostile")
	fmt.Printf("%-24s %9s %9s %9s %12s %12s %9s\n", "", "answers", "within", "memory", "let in", "of them", "answers")
	for _, r := range all {
		round := func(d time.Duration) string { return d.Round(100 * time.Microsecond).String() }
		fmt.Printf("%-24s %9s %9s %6.0f MB %12s %12s %9d\n", r.kind, round(r.half), round(r.nearlyAll), float64(r.memory)/1e6,
			fmt.Sprintf("%d of %d", r.let, r.came), round(r.slowest), r.did)
	}
}

// hostileLimit is how soon 99 of 100 answers have to come: the hostile phone, the honest ones and
// the server share this machine, so what is slow without a hostile one counts too.
func hostileLimit(alone hostileResult) time.Duration {
	return max(hostileWithin, 4*alone.nearlyAll)
}

func (r hostileResult) slow(alone hostileResult) bool { return r.nearlyAll > hostileLimit(alone) }

// hostileFaults says where others suffered.
func hostileFaults(all []hostileResult) (errs []error) {
	for _, r := range all {
		if r.slow(all[0]) {
			errs = append(errs, fmt.Errorf("beside %s 99 of 100 answers came within %s, more than %s", r.kind, r.nearlyAll, hostileLimit(all[0])))
		}
		if r.memory > hostileMemory {
			errs = append(errs, fmt.Errorf("beside %s the server took %d MB, more than %d", r.kind, r.memory/1e6, hostileMemory/1_000_000))
		}
		if r.let < r.came || r.came == 0 {
			errs = append(errs, fmt.Errorf("beside %s %d of %d newcomers with the right code came in within %s", r.kind, r.let, r.came, hostileJoin))
		}
		if r.tally.broken > 0 || len(r.tally.slow) == 0 {
			errs = append(errs, fmt.Errorf("beside %s: %d faults of %d answers, such as:\n  %s", r.kind, r.tally.broken, len(r.tally.slow), strings.Join(r.tally.faults, "\n  ")))
		}
	}
	return errs
}
