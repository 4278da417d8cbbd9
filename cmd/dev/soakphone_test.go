//go:build soak

package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"groundsheet/tiles"
)

// soakTally is what all phones of a soak saw.
type soakTally struct {
	requests, notModified, empty, gone atomic.Int64
	events, positions                  atomic.Int64
	phase                              atomic.Value // string: the latest of the receiver

	mu     sync.Mutex
	faults []string // what must not happen; the first few
	broken int      // how many in all
	slow   []time.Duration
}

// mostFaults is how many faults are told in words.
const mostFaults = 10

func (t *soakTally) fault(format string, args ...any) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.broken++
	if len(t.faults) < mostFaults {
		t.faults = append(t.faults, fmt.Sprintf(format, args...))
	}
}

func (t *soakTally) took(d time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.slow = append(t.slow, d)
}

// phone is one client: it opens the page, looks about, opens it again.
type phone struct {
	base  string
	http  *http.Client
	rand  *rand.Rand
	tally *soakTally
	tags  map[string]string // of tiles it keeps, by address
}

func newPhone(base string, n int, t *soakTally) *phone {
	return &phone{
		base: base, tally: t, rand: rand.New(rand.NewPCG(uint64(n), 7)), //nolint:gosec // no secret: the same walk each time
		http: &http.Client{Timeout: time.Minute, Transport: &http.Transport{MaxConnsPerHost: 6, MaxIdleConnsPerHost: 6}},
	}
}

// errAgain has the page opened again: its pack was exchanged.
var errAgain = errors.New("open the page again")

// live uses the map until ctx ends.
func (p *phone) live(ctx context.Context) {
	defer p.http.CloseIdleConnections()
	for ctx.Err() == nil {
		p.tags = map[string]string{}
		if err := p.visit(ctx); err != nil && !errors.Is(err, errAgain) && ctx.Err() == nil {
			p.tally.fault("%v", err)
			pause(ctx, time.Second)
		}
	}
}

// visit opens the page and looks at about fifty places of a pack.
func (p *phone) visit(ctx context.Context) error {
	for _, path := range []string{"/", "/app.css", "/app.js", "/icon.svg"} {
		if _, err := p.get(ctx, p.base+path); err != nil {
			return err
		}
	}
	var packs struct {
		Packs []struct{ ID, About string }
	}
	if err := p.document(ctx, p.base+"/packs.json", &packs); err != nil {
		return err
	}
	one := packs.Packs[p.rand.IntN(len(packs.Packs))]
	var about struct{ TileJSON, Overlays, Area string }
	if err := p.document(ctx, p.base+one.About, &about); err != nil {
		return err
	}
	var overlays struct{ Overlays []struct{ URL string } }
	if err := p.document(ctx, p.base+about.Overlays, &overlays); err != nil {
		return err
	}
	for _, o := range overlays.Overlays {
		if _, err := p.get(ctx, p.base+o.URL); err != nil {
			return err
		}
	}
	var t soakTiles
	if err := p.document(ctx, p.base+about.TileJSON, &t); err != nil {
		return err
	}
	return p.lookAbout(ctx, t, one.ID)
}

// soakTiles is what is needed of TileJSON.
type soakTiles struct {
	Tiles            []string
	MinZoom, MaxZoom int
	Bounds           [4]float64
}

// lookAbout asks for tiles round places of the pack, from one zoom above its
// shallowest to three beyond its deepest, and now and then for something else.
func (p *phone) lookAbout(ctx context.Context, t soakTiles, id string) error {
	others := []string{"/healthz", "/status.json", "/status", "/wmts/1.0.0/WMTSCapabilities.xml", "/collections/" + id + "/map/tiles/WebMercatorQuad", "/packs/" + id + "/area.geojson"}
	for range 50 {
		zoom := t.MinZoom - 1 + p.rand.IntN(t.MaxZoom-t.MinZoom+5)
		lon := t.Bounds[0] + p.rand.Float64()*(t.Bounds[2]-t.Bounds[0])
		lat := t.Bounds[1] + p.rand.Float64()*(t.Bounds[3]-t.Bounds[1])
		at := tiles.At(lon, lat, max(zoom, 0))
		for n := range uint32(4) {
			x, y := at.X+n%2, at.Y+n/2
			if x >= 1<<at.Z || y >= 1<<at.Z {
				continue
			}
			url := strings.NewReplacer("{z}", fmt.Sprint(at.Z), "{x}", fmt.Sprint(x), "{y}", fmt.Sprint(y)).Replace(t.Tiles[0])
			if _, err := p.get(ctx, url); err != nil {
				return err
			}
		}
		if p.rand.IntN(10) == 0 {
			if _, err := p.get(ctx, p.base+others[p.rand.IntN(len(others))]); err != nil {
				return err
			}
		}
		pause(ctx, time.Duration(100+p.rand.IntN(300))*time.Millisecond)
	}
	return nil
}

func (p *phone) document(ctx context.Context, url string, into any) error {
	body, err := p.get(ctx, url)
	if err != nil {
		return err
	}
	if err := json.Unmarshal(body, into); err != nil {
		return fmt.Errorf("%s: %w: %.80q", url, err, body)
	}
	return nil
}

// get asks as a browser does, with the ETag of what it has from the address.
// Anything but an answer that a map can use is an error.
func (p *phone) get(ctx context.Context, url string) ([]byte, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, url, nil)
	if err != nil {
		return nil, err
	}
	tag := p.tags[url]
	if tag != "" && strings.Contains(url, "/tiles/") {
		req.Header.Set("If-None-Match", tag)
	}
	began := time.Now()
	resp, err := p.http.Do(req)
	if err != nil {
		return nil, fmt.Errorf("no answer: %w", err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		return nil, fmt.Errorf("%s: the answer broke off: %w", url, err)
	}
	p.tally.requests.Add(1)
	p.tally.took(time.Since(began))
	switch resp.StatusCode {
	case http.StatusOK:
		if len(p.tags) < 500 {
			p.tags[url] = resp.Header.Get("ETag")
		}
		return body, nil
	case http.StatusNoContent:
		p.tally.empty.Add(1)
	case http.StatusNotModified:
		p.tally.notModified.Add(1)
	case http.StatusGone: // a tile of a version that is not served any more
		p.tally.gone.Add(1)
		return nil, errAgain
	default:
		return nil, fmt.Errorf("%s: answered %s: %.120q", url, resp.Status, body)
	}
	return nil, nil
}

// listen holds the event stream open and reads what is sent.
func (p *phone) listen(ctx context.Context) {
	client := &http.Client{Transport: &http.Transport{}} // a stream has no time limit
	defer client.CloseIdleConnections()
	for ctx.Err() == nil {
		if err := p.stream(ctx, client); err != nil && ctx.Err() == nil {
			p.tally.fault("events: %v", err)
			pause(ctx, time.Second)
		}
	}
}

func (p *phone) stream(ctx context.Context, client *http.Client) error {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, p.base+"/events", nil)
	if err != nil {
		return err
	}
	resp, err := client.Do(req)
	if err != nil {
		return err
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		return fmt.Errorf("answered %s", resp.Status)
	}
	name := ""
	lines := bufio.NewScanner(resp.Body)
	for lines.Scan() {
		key, value, _ := strings.Cut(lines.Text(), ":")
		switch value = strings.TrimPrefix(value, " "); key {
		case "event":
			name = value
			p.tally.events.Add(1)
		case "data":
			if name == "position" {
				p.position(value)
			}
		}
	}
	if err := lines.Err(); err != nil {
		return err
	}
	return io.ErrUnexpectedEOF // it has no end of its own
}

func (p *phone) position(data string) {
	var state struct{ Phase string }
	if err := json.Unmarshal([]byte(data), &state); err != nil {
		p.tally.fault("a position is not JSON: %.80q", data)
		return
	}
	p.tally.positions.Add(1)
	p.tally.phase.Store(state.Phase)
}

func pause(ctx context.Context, d time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(d):
	}
}
