package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"

	"groundsheet/pack/job"
	"groundsheet/tiles/fault"
)

// Kinds of faults with an answer of their own.
var (
	notFound = fault.Input("not found")
	changed  = fault.Input("changed meanwhile")
)

// Most bytes of what a page sends, more than any of it takes.
const (
	maxJSON = 16 << 20
	maxFile = 512 << 20
)

// handler answers with a value for the page, or with an error.
type handler func(r *http.Request) (any, error)

// route adds a route; the door lets nobody else through to any of them.
func (d *desk) route(pattern string, h http.HandlerFunc) {
	d.patterns = append(d.patterns, pattern)
	d.mux.HandleFunc(pattern, h)
}

// get adds a question.
func (d *desk) get(path string, f handler) { d.route("GET "+path, answering(f)) }

// post adds a change, told as JSON: see [readJSON].
func (d *desk) post(path string, f handler) {
	d.route("POST "+path, only("application/json", maxJSON, answering(f)))
}

// postFile adds what is done with the bytes of a file: the body of the request.
func (d *desk) postFile(path string, f handler) {
	d.route("POST "+path, only("application/octet-stream", maxFile, answering(f)))
}

// raw adds a question whose answer is no JSON. An error comes before anything is written.
func (d *desk) raw(path string, f func(w http.ResponseWriter, r *http.Request) error) {
	d.route("GET "+path, func(w http.ResponseWriter, r *http.Request) {
		if err := f(w, r); err != nil {
			answerError(w, r, err)
		}
	})
}

// only takes bodies of one media type; forms of other pages cannot send either.
func only(media string, most int64, next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if given, _, _ := strings.Cut(r.Header.Get("Content-Type"), ";"); given != media {
			http.Error(w, "want "+media, http.StatusUnsupportedMediaType)
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		next(w, r)
	}
}

func answering(f handler) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v, err := f(r)
		if err != nil {
			answerError(w, r, err)
			return
		}
		answerJSON(w, http.StatusOK, v)
	}
}

func answerJSON(w http.ResponseWriter, status int, v any) {
	body, err := json.Marshal(v)
	if err != nil { // a value that JSON cannot say, such as NaN
		status, body = http.StatusInternalServerError, fmt.Appendf(nil, `{"what":%q}`, err.Error())
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_, _ = w.Write(body) // a page that went away is nobody's to tell
}

// problem is an error as the page gets it.
type problem struct {
	What   string `json:"what"`
	Where  string `json:"where"`
	Remedy string `json:"remedy"`
}

// problemOf tells an error. What stands round a fault stays: it says of what.
func problemOf(err error) *problem {
	if err == nil {
		return nil
	}
	var f *fault.Fault
	if !errors.As(err, &f) {
		return &problem{What: err.Error()}
	}
	whole := f.Error()
	inner := (&fault.Fault{Detail: f.Detail, Err: f.Err}).Error()
	p := &problem{What: inner, Where: f.Place, Remedy: f.Remedy}
	if around, is := strings.CutSuffix(err.Error(), whole); is && around != "" {
		p.What = around + inner
	}
	return p
}

func answerError(w http.ResponseWriter, r *http.Request, err error) {
	if errors.Is(err, context.Canceled) && r.Context().Err() != nil {
		return // the page has gone
	}
	answerJSON(w, statusOf(err), problemOf(err))
}

func statusOf(err error) int {
	var large *http.MaxBytesError
	switch {
	case errors.Is(err, notFound):
		return http.StatusNotFound
	case errors.Is(err, changed), errors.Is(err, job.Locked):
		return http.StatusConflict
	case errors.As(err, &large):
		return http.StatusRequestEntityTooLarge
	case fault.IsOutside(err):
		return http.StatusBadGateway
	}
	return http.StatusBadRequest
}

// readJSON reads what a page sent; what it does not know is refused.
func readJSON(r *http.Request, v any) error {
	dec := json.NewDecoder(r.Body)
	dec.DisallowUnknownFields()
	if err := dec.Decode(v); err != nil {
		return &fault.Fault{Detail: "what the page sent cannot be read", Err: err, Remedy: "load the page again"}
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return &fault.Fault{Detail: "what the page sent goes on after its end", Remedy: "load the page again"}
	}
	return nil
}
