package serve

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"sync"
	"time"

	"groundsheet/serve/auth"
	"groundsheet/serve/position"
)

// streamsAtOnce is the default of Options.Streams: a crew's phones and tablets
// many times over.
const streamsAtOnce = 200

const (
	beatEvery  = 10 * time.Second       // so that a phone soon knows when the laptop is out of reach
	beforeNext = 200 * time.Millisecond // from one burst of events to the next on one stream
	writeTime  = 10 * time.Second       // for a phone to take what it is sent
)

// news is the latest of each kind of event. Streams send the latest alone, so
// a slow phone holds nobody up and misses nothing that still matters.
type news struct {
	places chan struct{} // one for each stream

	mu    sync.Mutex
	open  map[auth.LimitKey][]*stream // the oldest first
	items map[string]item             // by name of the event
	count int
	fresh chan struct{} // closed when the next item comes
	ended chan struct{} // closed when no stream may go on
	once  sync.Once
}

type item struct {
	number int
	body   func() any // worked out when it is sent, for ages
}

func newNews(streams int) *news {
	if streams == 0 {
		streams = streamsAtOnce
	}
	return &news{
		places: make(chan struct{}, streams), items: map[string]item{}, open: map[auth.LimitKey][]*stream{},
		fresh: make(chan struct{}), ended: make(chan struct{}),
	}
}

// tell sends an event to all streams, and to each new one until the next of
// its name. body is called for every stream when it is sent; what it gives is
// sent as JSON.
func (n *news) tell(name string, body func() any) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.count++
	n.items[name] = item{n.count, body}
	close(n.fresh)
	n.fresh = make(chan struct{})
}

// How many streams one session may have, and one address: a browser needs one. The
// project's own choice, no source.
const (
	streamsOfSession = 4
	streamsOfAddress = 16
)

// stream is one open stream.
type stream struct {
	shares []auth.LimitKey
	over   chan struct{} // closed when a newer one takes its place
}

// enter takes a place for a stream; the oldest of the same phone goes for one too
// many. ok is false when there is no place, else the stream has to leave.
func (n *news) enter(p *auth.Phone) (l *stream, ok bool) {
	l = &stream{shares: p.LimitKeys(), over: make(chan struct{})}
	patience := time.Duration(0)
	n.mu.Lock()
	for _, s := range l.shares {
		most := streamsOfSession
		if s.IsAddr {
			most = streamsOfAddress * s.Phones
		}
		if all := n.open[s]; len(all) >= most {
			close(all[0].over)
			n.remove(all[0])
			patience = time.Second // until the old one has left its place
		}
	}
	for _, s := range l.shares {
		n.open[s] = append(n.open[s], l)
	}
	n.mu.Unlock()
	select {
	case n.places <- struct{}{}:
		return l, true
	default:
	}
	select {
	case n.places <- struct{}{}:
		return l, true
	case <-time.After(patience):
		n.mu.Lock()
		defer n.mu.Unlock()
		n.remove(l)
		return nil, false
	}
}

func (n *news) leave(l *stream) {
	<-n.places
	n.mu.Lock()
	defer n.mu.Unlock()
	n.remove(l)
}

func (n *news) remove(l *stream) {
	for _, s := range l.shares {
		n.open[s] = slices.DeleteFunc(n.open[s], func(other *stream) bool { return other == l })
		if len(n.open[s]) == 0 {
			delete(n.open, s)
		}
	}
}

// end ends all streams, now and later.
func (n *news) end() { n.once.Do(func() { close(n.ended) }) }

// since gives the events after number, by name, and what is closed when more come.
func (n *news) since(number int) (names []string, items map[string]item, latest int, more <-chan struct{}) {
	n.mu.Lock()
	defer n.mu.Unlock()
	items = map[string]item{}
	for name, i := range n.items {
		if i.number > number {
			names = append(names, name)
			items[name] = i
		}
	}
	slices.Sort(names)
	return names, items, n.count, n.fresh
}

func (s *Server) routesEvents() {
	s.mux.HandleFunc("GET /events", s.stream)
	packs := func() any { return map[string]any{"packs": s.versions()} }
	s.news.tell("packs", packs)
	verdicts := func() any { return map[string]any{"verdicts": s.verdicts()} }
	s.news.tell("verdicts", verdicts)
	s.OnPack(func(PackState) { s.news.tell("packs", packs); s.news.tell("verdicts", verdicts) })
}

// versions tells which version of each pack is served, by its id.
func (s *Server) versions() map[string]string {
	all := map[string]string{}
	for _, p := range s.Packs() {
		all[p.ID] = p.Version
	}
	return all
}

// stream answers with Server-Sent Events: "position" (see positionEvent),
// "time" (what this computer's clock says, as a sign of life), "packs" (the
// version of each, at first and when one changes), "verdicts" (what checking
// each showed, likewise), and whatever else is told.
func (s *Server) stream(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Cache-Control", "no-store")
	phone := auth.PhoneOf(r)
	l, ok := s.news.enter(phone)
	if !ok {
		h.Set("Retry-After", "10")
		http.Error(w, "too many phones listen already: close the map on one of them", http.StatusServiceUnavailable)
		return
	}
	defer s.news.leave(l)
	phone.Release()
	h.Set("Content-Type", "text/event-stream")
	out := eventWriter{w: w, control: http.NewResponseController(w), clock: func() time.Duration { return s.now().Sub(s.watch.began) }}
	if r.Method == http.MethodHead {
		return
	}
	s.send(r, &out, l)
}

// send writes events until the phone, the server or the writing ends.
func (s *Server) send(r *http.Request, out *eventWriter, l *stream) {
	var states <-chan position.State
	if s.position != nil {
		watched, stop := s.position.Subscribe()
		defer stop()
		states = watched
	} else {
		out.event("position", positionNow(position.State{Phase: "none"}, s.now()))
	}
	beat := time.NewTicker(beatEvery)
	defer beat.Stop()
	out.event("time", s.timeNow())
	for number := 0; out.err == nil; {
		names, items, latest, more := s.news.since(number)
		for _, name := range names {
			out.event(name, items[name].body())
		}
		number = latest
		out.flush()
		if !s.rest(r) {
			return
		}
		select {
		case <-more:
		case state := <-states:
			out.event("position", positionNow(state, s.now()))
		case <-beat.C:
			out.event("time", s.timeNow())
		case <-l.over:
			out.comeBackAfter(time.Minute)
			return
		case <-r.Context().Done():
			return
		case <-s.news.ended:
			return
		}
	}
}

// rest lets a moment pass between bursts; false when the stream is to end.
func (s *Server) rest(r *http.Request) bool {
	t := time.NewTimer(beforeNext)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-r.Context().Done():
	case <-s.news.ended:
	}
	return false
}

func (s *Server) timeNow() any { return map[string]any{"now": s.now().UTC()} }

// eventWriter writes events and keeps the first error.
type eventWriter struct {
	w       http.ResponseWriter
	control *http.ResponseController
	clock   func() time.Duration // since the server began
	err     error
}

func (e *eventWriter) event(name string, v any) {
	body, err := json.Marshal(v)
	if e.err == nil {
		e.err = err
	}
	if e.err == nil {
		// each write has its own time, so the server's for a whole answer does not cut the stream
		e.err = e.control.SetWriteDeadline(time.Now().Add(writeTime))
	}
	if e.err == nil {
		// The id is when it was sent, in milliseconds: what lay in the network while a
		// phone slept must not look new. JSON holds no line ends.
		_, e.err = fmt.Fprintf(e.w, "id: %d\nevent: %s\ndata: %s\n\n", e.clock().Milliseconds(), name, body)
	}
}

// comeBackAfter tells a browser how long to stay away: one with too many maps open
// would else take its own places from itself for ever.
func (e *eventWriter) comeBackAfter(d time.Duration) {
	if e.err == nil {
		_, e.err = fmt.Fprintf(e.w, "retry: %d\n\n", d.Milliseconds())
	}
	e.flush()
}

func (e *eventWriter) flush() {
	if e.err == nil {
		e.err = e.control.Flush()
	}
}
