// Package event streams what happens on the server to phones, as Server-Sent Events:
// the position of a receiver, the time, and whatever else is announced.
package event

import (
	"slices"
	"strings"
	"sync"
	"time"

	"groundsheet/serve/auth"
	"groundsheet/serve/position"
)

// Options of a [Hub].
type Options struct {
	Streams  int              // at once, one for each map that is open; 0 = 200
	Now      func() time.Time // the computer's clock
	Position *position.Feed   // a receiver on this computer; nil = none
}

// Hub holds the latest event of each name. Streams send only the latest, so a slow
// phone delays nobody and misses nothing that still matters. Make it with [New].
type Hub struct {
	o     Options
	began time.Time
	slots chan struct{} // one for each stream

	mu      sync.Mutex
	streams map[auth.LimitKey][]*stream // oldest first
	events  []event                     // in the order of keys
	count   int
	added   chan struct{} // closed when the next event comes
	closed  chan struct{} // closed when no stream may go on
	once    sync.Once
}

type event struct {
	key    string // of what it is about; a later event with it takes its place
	name   string
	number int
	body   func() any // called when it is sent, so that ages are right
}

// New makes a hub without events.
func New(o Options) *Hub {
	if o.Streams == 0 {
		o.Streams = 200 // a crew's phones and tablets many times over
	}
	return &Hub{
		o: o, began: o.Now(), slots: make(chan struct{}, o.Streams), streams: map[auth.LimitKey][]*stream{},
		added: make(chan struct{}), closed: make(chan struct{}),
	}
}

// Announce sends an event to all streams, and to each new one until the next of its
// name. body is called for every stream when it is sent; its result is sent as JSON.
func (h *Hub) Announce(name string, body func() any) { h.AnnounceOf(name, name, body) }

// AnnounceOf does what [Hub.Announce] does for an event about one of several things: only
// the next of its key takes its place.
func (h *Hub) AnnounceOf(key, name string, body func() any) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.count++
	at, known := slices.BinarySearchFunc(h.events, key,
		func(e event, key string) int { return strings.Compare(e.key, key) })
	if !known {
		h.events = slices.Insert(h.events, at, event{})
	}
	h.events[at] = event{key, name, h.count, body}
	close(h.added)
	h.added = make(chan struct{})
}

// Close ends all streams, now and later.
func (h *Hub) Close() { h.once.Do(func() { close(h.closed) }) }

// Streams is the number of open streams.
func (h *Hub) Streams() int { return len(h.slots) }

// Position is the present position event; nil without a receiver.
func (h *Hub) Position() *Position {
	if h.o.Position == nil {
		return nil
	}
	p := positionOf(h.o.Position.State(), h.o.Now())
	return &p
}

// since gives the events after a number, the number of the latest, and a channel that is
// closed when more come.
func (h *Hub) since(number int) (events []event, latest int, more <-chan struct{}) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, e := range h.events {
		if e.number > number {
			events = append(events, e)
		}
	}
	return events, h.count, h.added
}

// How many streams one session may have, and one address: a browser needs one. The
// project's own choice, no source.
const (
	streamsOfSession = 4
	streamsOfAddress = 16
)

// stream is one open stream.
type stream struct {
	keys  []auth.LimitKey
	evict chan struct{} // closed when a newer stream takes its place
}

// enter takes a slot for a stream, which has to leave it. The oldest stream of the
// same phone goes for one too many; ok is false when no slot is free.
func (h *Hub) enter(p *auth.Phone) (s *stream, ok bool) {
	s = &stream{keys: p.LimitKeys(), evict: make(chan struct{})}
	wait := h.admit(s)
	select {
	case h.slots <- struct{}{}:
		return s, true
	default:
	}
	select {
	case h.slots <- struct{}{}:
		return s, true
	case <-time.After(wait):
		h.mu.Lock()
		defer h.mu.Unlock()
		h.remove(s)
		return nil, false
	}
}

// admit counts a stream, and evicts what is too much. It gives how long to wait until
// an evicted stream has left its slot.
func (h *Hub) admit(s *stream) (wait time.Duration) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, key := range s.keys {
		limit := streamsOfSession
		if key.IsAddr {
			limit = streamsOfAddress * key.Phones
		}
		if all := h.streams[key]; len(all) >= limit {
			close(all[0].evict)
			h.remove(all[0])
			wait = time.Second
		}
	}
	for _, key := range s.keys {
		h.streams[key] = append(h.streams[key], s)
	}
	return wait
}

func (h *Hub) leave(s *stream) {
	<-h.slots
	h.mu.Lock()
	defer h.mu.Unlock()
	h.remove(s)
}

func (h *Hub) remove(s *stream) {
	for _, key := range s.keys {
		h.streams[key] = slices.DeleteFunc(h.streams[key], func(other *stream) bool { return other == s })
		if len(h.streams[key]) == 0 {
			delete(h.streams, key)
		}
	}
}
