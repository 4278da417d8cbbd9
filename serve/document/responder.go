package document

import (
	"encoding/json"
	"log/slog"
	"net/http"
	"sync/atomic"
	"time"

	"groundsheet/serve/auth"
)

// Responder answers with JSON and with errors of the server, which it logs and
// counts. Make it with [NewResponder].
type Responder struct {
	Log    *slog.Logger
	Failed atomic.Int64 // requests that ended in an error of the server

	sending *auth.ConcurrencyLimiter // of large documents
}

// One phone is sent one large document at a time; more requests wait. The project's
// own choice, no source.
const (
	maxSending    = 1
	maxWaiting    = 64
	sendingPeriod = 10 * time.Second
)

// NewResponder makes a responder that logs to log.
func NewResponder(log *slog.Logger) *Responder {
	return &Responder{Log: log, sending: auth.NewLimiter(maxSending, maxSending, maxWaiting, sendingPeriod)}
}

// JSON answers with v as JSON of a media type, such as [JSON].
func (s *Responder) JSON(w http.ResponseWriter, r *http.Request, media string, v any) {
	body, err := json.Marshal(v)
	if err != nil {
		s.Fail(w, r, err)
		return
	}
	NewAsset(media, body).ServeHTTP(w, r)
}

// Asset answers with a document, or the error of making it. A large one waits until
// its phone has been sent others.
func (s *Responder) Asset(w http.ResponseWriter, r *http.Request, a Asset, err error) {
	if err != nil {
		s.Fail(w, r, err)
		return
	}
	if a.large() {
		done, ok := s.sending.Acquire(r.Context(), auth.PhoneOf(r))
		if !ok {
			Unavailable(w, "this phone is being sent large documents already: ask for one after the other")
			return
		}
		defer done()
	}
	a.ServeHTTP(w, r)
}

// Fail answers for an error of the server; the phone learns no paths and keeps nothing.
func (s *Responder) Fail(w http.ResponseWriter, r *http.Request, err error) {
	if r.Context().Err() != nil {
		return // the phone went away
	}
	s.Failed.Add(1)
	s.Log.Error("request failed", "path", r.URL.Path, "err", err)
	w.Header().Set("Cache-Control", "no-store")
	http.Error(w, "the pack cannot be read: run groundsheet check on it", http.StatusInternalServerError)
}

// Unavailable asks a phone to come back.
func Unavailable(w http.ResponseWriter, why string) {
	w.Header().Set("Retry-After", "5")
	w.Header().Set("Cache-Control", "no-store")
	http.Error(w, why, http.StatusServiceUnavailable)
}

// Origin is scheme and host as the phone asked for them, for absolute addresses.
func Origin(r *http.Request) string {
	if r.TLS != nil {
		return "https://" + r.Host
	}
	return "http://" + r.Host
}
