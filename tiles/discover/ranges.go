package discover

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"

	"golang.org/x/sync/singleflight"

	"groundsheet/tiles/fetch/httpget"
	"groundsheet/tiles/fetch/pace"
	"groundsheet/tiles/imagery"
	"groundsheet/tiles/source"
)

// rangeChunk is how much of a remote picture is asked for at once, and
// rangeChunks how many are held.
const (
	rangeChunk  = 256 << 10
	rangeChunks = 128
)

// ranges reads a remote picture by ranges (RFC 9110, 14), at the pace and in the
// hours of its terms.
type ranges struct {
	*session
	ctx    context.Context
	first  *url.URL
	pace   *pace.Limiter
	free   chan struct{} // one for each connection that the terms allow
	flight singleflight.Group
	size   int64
	tag    string
	mu     sync.Mutex
	held   map[int64][]byte
	order  []int64 // the latest last
	status int     // of the last answer, if that was no range; 0 = it was one
	retry  string  // its Retry-After
}

// remote is the picture of the source's address; nil for files of this computer.
func (s *session) remote(ctx context.Context) (*imagery.Remote, error) {
	if s.src.URL == "" {
		return nil, nil
	}
	if err := s.src.Forbidden(); err != nil {
		return nil, err
	}
	text, err := s.src.WithKey(s.src.URL)
	if err != nil {
		return nil, err
	}
	u, err := url.Parse(text)
	if err != nil || u.Host == "" {
		return nil, unfit("give an address that begins with https:// or http://", "%s is no address", oneLine(s.src.URL, 200))
	}
	rate, connections := source.DefaultRequestsPerSecond, source.DefaultConnections
	if t := s.src.Terms; t != nil && t.RequestsPerSecond > 0 {
		rate, connections = t.RequestsPerSecond, max(t.Connections, 1)
	}
	// Reads end by their own limits, or with the answerer.
	r := &ranges{session: s, ctx: context.WithoutCancel(ctx), first: u, pace: pace.New(rate, 0), free: make(chan struct{}, connections), held: map[int64][]byte{}}
	s.client = httpget.Client(s.o.Client, connections)
	start, err := r.ask(ctx, 0)
	if err != nil {
		return nil, err
	}
	r.size, r.tag = total(start.Header.Get("Content-Range")), start.Validator("ETag")
	if start.Status != http.StatusPartialContent || r.size <= 0 {
		if start.Status >= 400 {
			return nil, s.rejected(text, start.Status)
		}
		return nil, s.fail(Failed, text, "the server does not send parts of a file (it answers "+httpget.StatusText(start.Status)+" to a request for a range)", nil,
			"fetch the file as a whole, if its terms allow that, and name it with file")
	}
	r.keep(0, start.data)
	out := &imagery.Remote{ReaderAt: r, Size: r.size, Tag: r.tag, Refused: r.refusal}
	out.Modified, _ = http.ParseTime(start.Header.Get("Last-Modified")) // zero = not known
	return out, nil
}

// total is the length in a Content-Range; 0 if it is not known.
func total(field string) int64 {
	_, after, _ := strings.Cut(field, "/")
	n, _ := strconv.ParseInt(after, 10, 64) // "*" is 0
	return n
}

// ask asks for one chunk, when it may leave.
func (r *ranges) ask(ctx context.Context, chunk int64) (response, error) {
	if t := r.src.Terms; t != nil && !t.OpenAt(r.o.Now()) {
		return response{}, r.fail(Outage, r.first.String(), "the hours that its terms allow are over", nil, "run again when they begin")
	}
	select {
	case r.free <- struct{}{}:
	case <-ctx.Done():
		return response{}, ctx.Err()
	}
	defer func() { <-r.free }()
	sent, err := r.pace.Wait(ctx)
	if err != nil {
		return response{}, err
	}
	if sent != nil {
		defer sent()
	}
	return r.get(ctx, r.first, func(h http.Header) {
		h.Set("Accept", "image/tiff, */*;q=0.1")
		h.Set("Accept-Encoding", "identity")
		h.Set("Range", fmt.Sprintf("bytes=%d-%d", chunk*rangeChunk, (chunk+1)*rangeChunk-1))
		if strings.HasPrefix(r.tag, `"`) { // a weak one does not do (RFC 9110, 13.1.5)
			h.Set("If-Range", r.tag)
		}
	}, rangeChunk)
}

// ReadAt reads from what is held, and asks for the rest.
func (r *ranges) ReadAt(p []byte, at int64) (n int, err error) {
	for n < len(p) && at < r.size {
		chunk := at / rangeChunk
		data, err := r.chunk(chunk)
		if err != nil {
			return n, err
		}
		part := copy(p[n:], data[min(at-chunk*rangeChunk, int64(len(data))):])
		if part == 0 {
			return n, io.ErrUnexpectedEOF
		}
		n, at = n+part, at+int64(part)
	}
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

func (r *ranges) chunk(i int64) ([]byte, error) {
	r.mu.Lock()
	data, is := r.held[i]
	r.mu.Unlock()
	if is {
		return data, nil
	}
	got, err, _ := r.flight.Do(strconv.FormatInt(i, 10), func() (any, error) { return r.fetch(i) })
	data, _ = got.([]byte)
	return data, err
}

func (r *ranges) fetch(i int64) ([]byte, error) {
	got, err := r.ask(r.ctx, i)
	if err != nil {
		r.mu.Lock()
		r.status, r.retry = http.StatusBadGateway, ""
		r.mu.Unlock()
		return nil, err
	}
	if err := r.judge(got, i); err != nil {
		return nil, err
	}
	r.keep(i, got.data)
	return got.data, nil
}

// judge takes only the range that was asked for, of the version that was looked
// at first.
func (r *ranges) judge(got response, i int64) error {
	want := min(rangeChunk, r.size-i*rangeChunk)
	r.mu.Lock()
	defer r.mu.Unlock()
	switch {
	case got.Status != http.StatusPartialContent:
		r.status, r.retry = got.Status, got.Header.Get("Retry-After")
		if got.Status == http.StatusOK {
			r.status = http.StatusConflict // If-Range: it is another version
		}
		if d, ok := pace.RetryAfter(got.Header, got.Received); ok {
			r.pace.Pause(min(d, pace.LongestPause))
		}
		return statusError(got.Status)
	case total(got.Header.Get("Content-Range")) != r.size || got.Validator("ETag") != r.tag || int64(len(got.data)) != want:
		r.status = http.StatusConflict
		return errors.New("the picture changed at the server while it was read")
	}
	r.status, r.retry = 0, ""
	return nil
}

func (r *ranges) refusal() (status int, retryAfter string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.status, r.retry
}

func (r *ranges) keep(i int64, data []byte) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if _, is := r.held[i]; !is {
		r.order = append(r.order, i)
	}
	r.held[i] = data
	for len(r.order) > rangeChunks {
		delete(r.held, r.order[0])
		r.order = r.order[1:]
	}
}
