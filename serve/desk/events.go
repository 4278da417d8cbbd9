package desk

import (
	"encoding/json"
	"net/http"
	"sync"
	"time"
)

// message is one line to a page.
type message struct {
	Topic string `json:"topic"`
	Value any    `json:"value"`
}

// hub tells all open pages what happens.
type hub struct {
	mu     sync.Mutex
	pages  map[chan []byte]bool
	closed bool
}

// A page that is so many lines behind is let go; it asks anew and looks at everything.
const mostBehind = 256

// keepAlive is the pause after which an empty line shows that the desk is there.
const keepAlive = 10 * time.Second

func newHub() *hub { return &hub{pages: map[chan []byte]bool{}} }

func (h *hub) publish(topic string, value any) {
	line, err := json.Marshal(message{topic, value})
	if err != nil {
		return // a value of ours that JSON cannot say shows in the tests of its slice
	}
	line = append(line, '\n')
	h.mu.Lock()
	defer h.mu.Unlock()
	for page := range h.pages {
		select {
		case page <- line:
		default:
			delete(h.pages, page)
			close(page)
		}
	}
}

func (h *hub) join() (page chan []byte, leave func()) {
	page = make(chan []byte, mostBehind)
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.closed {
		close(page)
		return page, func() {}
	}
	h.pages[page] = true
	return page, func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		if h.pages[page] {
			delete(h.pages, page)
			close(page)
		}
	}
}

// open is how many pages there are.
func (h *hub) open() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.pages)
}

func (h *hub) close() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.closed = true
	for page := range h.pages {
		delete(h.pages, page)
		close(page)
	}
}

// stream is the answer to GET /api/events: a JSON object a line, as things happen.
func (h *hub) stream(w http.ResponseWriter, r *http.Request) error {
	page, leave := h.join()
	defer leave()
	w.Header().Set("Content-Type", "application/x-ndjson")
	out := http.NewResponseController(w)
	write := func(line []byte) bool {
		_ = out.SetWriteDeadline(time.Now().Add(keepAlive))
		_, err := w.Write(line)
		return err == nil && out.Flush() == nil
	}
	if !write([]byte("\n")) {
		return nil
	}
	still := time.NewTicker(keepAlive)
	defer still.Stop()
	for {
		select {
		case <-r.Context().Done():
			return nil
		case <-still.C:
			if !write([]byte("\n")) {
				return nil
			}
		case line, more := <-page:
			if !more || !write(line) {
				return nil
			}
		}
	}
}
