package event

import (
	"encoding/json"
	"fmt"
	"net/http"
	"time"

	"groundsheet/serve/auth"
	"groundsheet/serve/position"
)

const (
	heartbeat    = 10 * time.Second       // so that a phone soon knows when the laptop is out of reach
	burstPause   = 200 * time.Millisecond // between bursts of events on one stream
	writeTimeout = 10 * time.Second       // of one event
)

// ServeHTTP answers with Server-Sent Events: "position" (see [Position]), "time" (this
// computer's clock, as a sign of life), and those that are announced.
func (h *Hub) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Cache-Control", "no-store")
	phone := auth.PhoneOf(r)
	s, ok := h.enter(phone)
	if !ok {
		w.Header().Set("Retry-After", "10")
		http.Error(w, "too many phones listen already: close the map on one of them", http.StatusServiceUnavailable)
		return
	}
	defer h.leave(s)
	phone.Release()
	w.Header().Set("Content-Type", "text/event-stream")
	if r.Method == http.MethodHead {
		return
	}
	h.send(r, &writer{w: w, control: http.NewResponseController(w), hub: h}, s)
}

// send writes events until the phone, the hub or the writing ends.
func (h *Hub) send(r *http.Request, out *writer, s *stream) {
	states, stop := h.positions(out)
	defer stop()
	beat := time.NewTicker(heartbeat)
	defer beat.Stop()
	out.time()
	for number := 0; out.err == nil; {
		events, latest, more := h.since(number)
		for _, e := range events {
			out.event(e.name, e.body())
		}
		number = latest
		out.flush()
		select {
		case <-time.After(burstPause):
		case <-r.Context().Done():
			return
		case <-h.closed:
			return
		}
		select {
		case <-more:
		case state := <-states:
			out.position(state)
		case <-beat.C:
			out.time()
		case <-s.evict:
			out.retryAfter(time.Minute)
			return
		case <-r.Context().Done():
			return
		case <-h.closed:
			return
		}
	}
}

// positions gives the states of the receiver to send; without one it sends that.
func (h *Hub) positions(out *writer) (states <-chan position.FeedState, stop func()) {
	if h.o.Position != nil {
		return h.o.Position.Subscribe()
	}
	out.position(position.FeedState{Phase: "none"})
	return nil, func() {}
}

// writer writes events and keeps the first error.
type writer struct {
	w       http.ResponseWriter
	control *http.ResponseController
	hub     *Hub
	err     error
}

func (w *writer) position(s position.FeedState) { w.event("position", positionOf(s, w.hub.o.Now())) }

func (w *writer) time() { w.event("time", map[string]any{"now": w.hub.o.Now().UTC()}) }

func (w *writer) event(name string, v any) {
	body, err := json.Marshal(v)
	if w.err == nil {
		w.err = err
	}
	if w.err == nil {
		// Each event has a deadline of its own, so the server's for a whole answer does not cut the stream.
		w.err = w.control.SetWriteDeadline(time.Now().Add(writeTimeout))
	}
	if w.err == nil {
		// The ID is when it was sent, in milliseconds since the server began: what lay in
		// the network while a phone slept must not look new. JSON holds no line ends.
		_, w.err = fmt.Fprintf(w.w, "id: %d\nevent: %s\ndata: %s\n\n", w.hub.o.Now().Sub(w.hub.began).Milliseconds(),
			name, body)
	}
}

// retryAfter tells a browser how long to stay away: one with too many maps open would
// else evict its own streams for ever.
func (w *writer) retryAfter(d time.Duration) {
	if w.err == nil {
		_, w.err = fmt.Fprintf(w.w, "retry: %d\n\n", d.Milliseconds())
	}
	w.flush()
}

func (w *writer) flush() {
	if w.err == nil {
		w.err = w.control.Flush()
	}
}
