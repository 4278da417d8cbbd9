package fetch

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptrace"
	"strings"
	"time"

	"golang.org/x/sync/singleflight"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/fetch/httpcache"
	"groundsheet/tiles/fetch/httpget"
	"groundsheet/tiles/fetch/pace"
	"groundsheet/tiles/source"
)

// requester sends the requests of a run. Errors that are a *[Stop] say what
// else they end; others end the run.
type requester struct {
	*counter
	src    source.Source
	o      Options
	client *http.Client
	agent  string
	pace   *pace.Limiter
	flight singleflight.Group // merges equal requests that are in flight at once
	lease  *lease             // the current one
}

// reply is a response that says something of a tile.
type reply struct {
	httpcache.Response
	body []byte // of a 200; other workers may have the same
}

// get sends one request, with its redirects, when it may leave; workers that
// want the same at once share it. tiles is how many count for the budget.
func (q *requester) get(ctx context.Context, address string, with httpcache.Validators, tiles int) (reply, error) {
	key := strings.Join([]string{address, with.ETag, with.LastModified}, "\n")
	got, err, _ := q.flight.Do(key, func() (any, error) { return q.follow(ctx, address, with, tiles) })
	if err != nil {
		return reply{}, err
	}
	rep, _ := got.(reply)
	return rep, nil
}

// follow sends a request and those that its redirects lead to.
func (q *requester) follow(ctx context.Context, address string, with httpcache.Validators, tiles int) (any, error) {
	stated := address
	for range httpget.MaxRedirects + 1 {
		sent, err := q.lease.admit(ctx, q.pace)
		if err != nil {
			return nil, err
		}
		if err := q.lease.quota.take(ctx, tiles); err != nil {
			return nil, err
		}
		got, next, err := q.send(ctx, stated, address, with, sent)
		if next == "" || err != nil {
			return got, err
		}
		address = next
	}
	return nil, &Stop{scope: scopeTile, Detail: fmt.Sprintf("more than %d redirects", httpget.MaxRedirects)}
}

// send sends one request; next is where it redirects to, if it does. stated is
// the address that the source itself states; sent may be nil.
func (q *requester) send(ctx context.Context, stated, address string, with httpcache.Validators,
	sent func()) (got reply, next string, err error) {
	limited, cancel := context.WithTimeout(ctx, q.o.Timeout)
	defer cancel()
	if sent != nil {
		limited = httptrace.WithClientTrace(limited,
			&httptrace.ClientTrace{WroteRequest: func(httptrace.WroteRequestInfo) { sent() }})
	}
	req, err := http.NewRequestWithContext(limited, http.MethodGet, address, nil)
	if err != nil {
		return got, "", fmt.Errorf("an address of source %q cannot be used: %s", q.src.Name,
			q.src.Redact(httpget.WithoutURL(err).Error()))
	}
	req.Header.Set("User-Agent", q.agent)
	httpget.TileFields(req.Header)
	with.Set(req.Header)
	q.count(func(t *Tally) { t.Requests++ })
	requested, left := q.o.Now(), time.Now()
	resp, err := q.client.Do(req)
	if err != nil {
		return got, "", q.broken(ctx, err)
	}
	defer resp.Body.Close()
	got.Response = httpcache.NewResponse(resp, requested, q.o.Now())
	switch {
	case got.Status == http.StatusOK:
		if err = mayKeep(q.src, got); err == nil {
			got.body, err = q.body(ctx, resp)
		}
		return got, "", err
	case httpget.IsRedirect(got.Status):
		next, err = q.redirect(stated, resp, got)
	default:
		err = q.status(got, resp.Body, left)
	}
	q.drain(resp.Body)
	return got, next, err
}

// drain reads a short page to its end, which leaves the connection usable; a
// longer one costs a connection and nothing else.
func (q *requester) drain(body io.Reader) {
	n, _ := io.CopyN(io.Discard, body, 16<<10)
	q.count(func(t *Tally) { t.Received += n })
}

// body reads the body up to the limit and checks its length.
func (q *requester) body(ctx context.Context, resp *http.Response) ([]byte, error) {
	if err := q.encoded(resp.Header); err != nil {
		return nil, err
	}
	tooLong := retry(fmt.Sprintf("the answer is longer than %d bytes", q.o.MaxBytes))
	if resp.ContentLength > q.o.MaxBytes {
		return nil, tooLong
	}
	buf := bytes.NewBuffer(make([]byte, 0, max(resp.ContentLength, 0)+bytes.MinRead))
	n, err := buf.ReadFrom(io.LimitReader(resp.Body, q.o.MaxBytes+1))
	q.count(func(t *Tally) { t.Received += n })
	switch {
	case n > q.o.MaxBytes:
		return nil, tooLong
	case errors.Is(err, io.ErrUnexpectedEOF) || err == nil && resp.ContentLength >= 0 && n != resp.ContentLength:
		s := retry(fmt.Sprintf("the answer was cut short after %d bytes", n))
		if s.outage = true; resp.ContentLength >= 0 {
			s.Detail = fmt.Sprintf("the answer was cut short: %d of %d bytes", n, resp.ContentLength)
		}
		return nil, s
	case err != nil:
		return nil, q.broken(ctx, err)
	case resp.ContentLength < 0:
		return bytes.Clone(buf.Bytes()), nil // without the room that it grew
	}
	return buf.Bytes(), nil
}

// encoded refuses a compressed body although none was asked for: unpacking it
// could fill any memory. The name of the coding is the source's own text, and
// not repeated unless it is a usual one. Vector tiles come by gzip mostly; package mvt
// unpacks them within a bound.
func (q *requester) encoded(h http.Header) error {
	name := strings.ToLower(strings.TrimSpace(h.Get("Content-Encoding")))
	switch name {
	case "", "identity":
		return nil
	case "gzip", "x-gzip":
		if q.src.Vector() {
			return nil
		}
	case "deflate", "br", "zstd", "compress":
	default:
		name = "another way"
	}
	return retry("the answer is packed (" + name + ") although it was asked for as it is")
}

// broken sorts the errors of the network. ctx is the run's own: when it has
// ended, that is the error.
func (q *requester) broken(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if f, is := errors.AsType[*fault.Fault](err); is { // an answerer of this program says itself what is wrong
		return &Stop{scope: scopeTile, Detail: f.Error()}
	}
	f := httpget.Diagnose(err, q.o.Timeout)
	if f.Untrusted {
		return stopRun(q.src, StopTLS, f.Detail, f.Err,
			"check the clock of this computer and the address in sources.toml; a sign-in page on the network causes it too")
	}
	s := stopRun(q.src, "", f.Detail, f.Err, "")
	s.scope, s.unreachable, s.outage = scopeTry, f.Unreachable, true
	return s
}
