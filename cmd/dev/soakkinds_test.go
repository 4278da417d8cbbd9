//go:build soak

package main

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"groundsheet/tiles"
)

// hostileKind is a phone that means harm, or a broken one. run starts it; it ends with ctx, and
// counts what it got done.
type hostileKind struct {
	name string
	run  func(ctx context.Context, h *hostileRun, all *sync.WaitGroup, did *atomic.Int64)
}

var hostileKinds = []hostileKind{
	{"nobody", func(context.Context, *hostileRun, *sync.WaitGroup, *atomic.Int64) {}},
	{"guesses, 250 addresses", hostileGuesses},
	{"idle connections", hostileIdle},
	{"event streams", hostileJoined(6, 8, func(_ *hostileRun, n int64) (string, bool) { return "/events", n%2 == 0 })},
	{"records near a place", hostileJoined(6, 32, func(h *hostileRun, _ int64) (string, bool) { return h.near, false })},
	{"large documents", hostileJoined(6, 8, func(h *hostileRun, n int64) (string, bool) { return h.large, n%2 == 0 })},
	{"tiles over HTTP/2", hostileJoined(6, 100, hostileTile)},
}

// hostileGuesses says another code from one of 250 addresses each time.
func hostileGuesses(ctx context.Context, h *hostileRun, all *sync.WaitGroup, did *atomic.Int64) {
	ways := make([]*http.Transport, 250)
	for i := range ways {
		ways[i] = wayFrom(fmt.Sprintf("127.0.1.%d", i+1))
	}
	const at = 4 // once
	for n := range at {
		all.Go(func() {
			for i := n; ctx.Err() == nil; i += at {
				if status, _, err := h.say(ctx, ways[i%len(ways)], fmt.Sprintf("%012d", i)); err == nil && status == http.StatusForbidden {
					did.Add(1)
				}
			}
			for i := n; i < len(ways); i += at {
				ways[i].CloseIdleConnections()
			}
		})
	}
}

// hostileIdle opens 48 silent connections from each of 24 addresses, and opens anew what the server closes.
func hostileIdle(ctx context.Context, h *hostileRun, all *sync.WaitGroup, did *atomic.Int64) {
	server := strings.TrimPrefix(h.base, "https://")
	for n := range 24 {
		way := wayFrom(fmt.Sprintf("127.0.4.%d", n+1))
		for range 48 {
			all.Go(func() {
				for ; ctx.Err() == nil; pause(ctx, 500*time.Millisecond) {
					c, err := way.DialContext(ctx, "tcp", server)
					if err != nil {
						continue
					}
					did.Add(1)
					stop := context.AfterFunc(ctx, func() { _ = c.Close() })
					_, _ = c.Read(make([]byte, 1)) // until the server has enough
					stop()
					_ = c.Close()
				}
			})
		}
	}
}

// hostileJoined is one phone that is in and asks without rest, over so many connections and so many
// times at once over each. next gives what it asks, and whether it reads the answer.
func hostileJoined(connections, at int, next func(h *hostileRun, n int64) (path string, unread bool)) func(context.Context, *hostileRun, *sync.WaitGroup, *atomic.Int64) {
	return func(ctx context.Context, h *hostileRun, all *sync.WaitGroup, did *atomic.Int64) {
		var asked atomic.Int64
		for range connections {
			p, err := h.joinFrom(ctx, "127.0.5.1", &soakTally{})
			if err != nil {
				continue // it is in one time less
			}
			for range at {
				all.Go(func() {
					defer p.http.CloseIdleConnections()
					for ctx.Err() == nil {
						n := asked.Add(1)
						path, unread := next(h, n)
						if hostileAsk(ctx, h, p, path, unread, n%3 > 0) {
							did.Add(1)
						}
					}
				})
			}
		}
	}
}

// hostileAsk asks once; an answer that it does not read it keeps open for a while.
func hostileAsk(ctx context.Context, h *hostileRun, p *phone, path string, unread, packed bool) bool {
	ctx, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, h.base+strings.TrimPrefix(path, h.base), nil)
	if err != nil {
		return false
	}
	if packed {
		req.Header.Set("Accept-Encoding", "gzip") // and does not unpack it
	}
	resp, err := p.http.Do(req)
	if err != nil {
		pause(ctx, 10*time.Millisecond)
		return false
	}
	defer resp.Body.Close()
	if unread {
		pause(ctx, time.Second)
	} else {
		_, _ = io.Copy(io.Discard, resp.Body) // the server may have ended it
	}
	return resp.StatusCode == http.StatusOK
}

// hostileTile is another tile each time, most of them to be enlarged.
func hostileTile(h *hostileRun, n int64) (path string, unread bool) {
	zoom := h.tiles.MaxZoom + int(n%4)
	at := tiles.At(h.tiles.Bounds[0], h.tiles.Bounds[3], zoom)
	at.X, at.Y = at.X+uint32(n%97), at.Y+uint32(n/97%89)
	return strings.NewReplacer("{z}", fmt.Sprint(at.Z), "{x}", fmt.Sprint(at.X), "{y}", fmt.Sprint(at.Y)).Replace(h.tiles.Tiles[0]), false
}
