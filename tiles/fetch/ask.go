package fetch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptrace"
	"strings"
	"time"

	"groundsheet/tiles/measure"
)

// trouble is an answer that is no answer.
type trouble struct {
	why         string
	err         error // the network's error, or nil
	final       bool  // asking again would not help
	told        bool  // the source said how long to wait
	unasked     bool  // 304 without cause: ask again without validators
	unreachable bool  // there was no connection at all
	outage      bool  // 500, 502, 503, 504 or the network (RFC 5861, 4)
}

// kind says in general what kept us from the host.
func (t *trouble) kind() string {
	var dns *net.DNSError
	if errors.As(t.err, &dns) {
		return "the host name cannot be looked up"
	}
	return "the host cannot be reached"
}

// reply is an answer that was read to its end.
type reply struct {
	status              int
	header              http.Header
	says                directives // its Cache-Control
	body                []byte     // of a 200
	shared              bool       // others have the same body
	secure              bool       // it came over TLS
	words               string     // of a source that does not let us in, its own; "" for none
	sized               bool       // its length was said, so that it is surely whole
	requested, received time.Time  // by Options.Now
}

// answered is what a shared request gives to everybody who waits for it.
type answered struct {
	reply
	bad *trouble
}

// redirectsFollowed is the most for one tile.
const redirectsFollowed = 3

// ask sends one request, with its redirects, in its turn; the same request is
// not sent twice at once. cost is how many tiles it counts for in the budget.
// Exactly one of reply, trouble and error is given; an error ends the turn.
func (r *run) ask(ctx context.Context, address string, with conditions, cost int) (reply, *trouble, error) {
	key := strings.Join([]string{address, with.etag, with.modified}, "\n")
	got, err, shared := r.flight.Do(key, func() (any, error) {
		rep, bad, err := r.follow(ctx, address, with, cost)
		return answered{rep, bad}, err
	})
	if err != nil {
		return reply{}, nil, err
	}
	a := got.(answered)
	a.shared = shared
	return a.reply, a.bad, nil
}

// follow sends a request and those that its redirects lead to.
func (r *run) follow(ctx context.Context, address string, with conditions, cost int) (reply, *trouble, error) {
	own := address
	for hop := 0; ; hop++ {
		gone, err := r.place(ctx)
		if err != nil {
			return reply{}, nil, err
		}
		if err := r.gate.pass(ctx, cost); err != nil {
			return reply{}, nil, err
		}
		got, next, bad, err := r.request(ctx, own, address, with, gone)
		if next == "" || bad != nil || err != nil {
			return got, bad, err
		}
		if hop == redirectsFollowed {
			return reply{}, &trouble{why: fmt.Sprintf("more than %d redirects", redirectsFollowed), final: true}, nil
		}
		address = next
	}
}

// place waits until a request may leave, or nothing more is asked; call gone,
// unless it is nil, when it has left.
func (r *run) place(ctx context.Context) (gone func(), err error) {
	switch {
	case r.pace.free && r.ends.is():
		return nil, over{}
	case r.pace.free: // nothing to wait for
		return nil, ctx.Err()
	}
	err = r.ends.wait(ctx, func(ctx context.Context) (err error) {
		gone, err = r.pace.turn(ctx)
		return err
	})
	return gone, err
}

// request sends one request; next is where it redirects to, if it does. own is
// the address that the source itself states.
func (r *run) request(ctx context.Context, own, address string, with conditions, gone func()) (got reply, next string, bad *trouble, err error) {
	limited, cancel := context.WithTimeout(ctx, r.o.Timeout)
	defer cancel()
	if gone != nil {
		limited = httptrace.WithClientTrace(limited, &httptrace.ClientTrace{WroteRequest: func(httptrace.WroteRequestInfo) { gone() }})
	}
	req, err := http.NewRequestWithContext(limited, http.MethodGet, address, nil)
	if err != nil {
		return got, "", nil, fmt.Errorf("an address of source %q cannot be used: %s", r.src.Name, r.src.Redact(bare(err).Error()))
	}
	r.setHeaders(req.Header, with)
	r.count(func(t *Tally) { t.Requests++ })
	requested, sent := r.o.Now(), time.Now()
	resp, err := r.client.Do(req)
	if err != nil {
		bad, err = r.broken(ctx, err)
		return got, "", bad, err
	}
	defer resp.Body.Close()
	got = reply{
		status: resp.StatusCode, header: resp.Header, says: cacheControl(resp.Header), secure: resp.TLS != nil,
		sized:     resp.ContentLength >= 0 || resp.ProtoMajor >= 2 || len(resp.TransferEncoding) > 0,
		requested: requested, received: r.o.Now(),
	}
	if resp.StatusCode != http.StatusOK {
		defer r.drain(resp.Body)
	}
	switch resp.StatusCode {
	case 301, 302, 303, 307, 308:
		next, bad, err = r.redirect(own, resp, got)
		return got, next, bad, err
	case http.StatusOK:
		if err = r.mayKeep(got); err == nil {
			got.body, bad, err = r.body(ctx, resp)
		}
		return got, "", bad, err
	}
	if rejects(got.status) {
		got.words = r.refusal(resp)
	}
	bad, err = r.status(got, sent)
	return got, "", bad, err
}

// drain reads a short page to its end, which leaves the connection usable; a
// longer one costs a connection and nothing else.
func (r *run) drain(body io.Reader) {
	n, _ := io.CopyN(io.Discard, body, 16<<10)
	r.count(func(t *Tally) { t.Received += n })
}

// status sorts the answers that bring no image. No trouble means that judge
// knows what it says of the tile.
func (r *run) status(got reply, sent time.Time) (*trouble, error) {
	if rejects(got.status) {
		says := ""
		if got.words != "" {
			says = " and says “" + got.words + "”"
		}
		return nil, r.stopped(StopRejected, "the source does not let us in: it answers "+statusText(got.status)+says, nil,
			"check the key and the terms of the source, and whether the address in sources.toml is right")
	}
	switch got.status {
	case 204, 304, 404, 410:
		return nil, nil
	case 511:
		return nil, r.stopped(StopPortal, "a captive portal answers instead of the source ("+statusText(511)+")", nil,
			"sign in to the network in a browser, then run again")
	case 408, 425, 429, 500, 502, 503, 504:
		return r.later(got, sent)
	}
	return &trouble{why: "an unexpected answer: " + statusText(got.status), final: true}, nil
}

// rejects reports whether a status says that we are not let in.
func rejects(status int) bool {
	switch status {
	case 401, 402, 403, 407, 451:
		return true
	}
	return false
}

// later is an answer that may be another one soon.
func (r *run) later(got reply, sent time.Time) (*trouble, error) {
	if got.status == http.StatusTooManyRequests {
		if rate, slower := r.pace.slow(sent); slower {
			r.o.Log.Warn("the source finds us too fast, the rate is halved", "per_second", rate)
		}
	}
	told, err := r.heed(got)
	if err != nil {
		return nil, err
	}
	return &trouble{why: "the source answers " + statusText(got.status), told: told, outage: got.status >= 500}, nil
}

// heed makes every worker wait as long as the answer asks.
func (r *run) heed(got reply) (told bool, err error) {
	d, told := retryAfter(got.header, got.received)
	if !told {
		return false, nil
	}
	asks := measure.Duration(d)
	if d > longestWait {
		d, asks = longestWait, fmt.Sprintf("%s; no more than %s of it is kept to", asks, measure.Duration(longestWait))
	}
	added := r.pace.pause(d) // also for the runs after this one
	if d > longestPause {
		until := got.received.Add(d)
		return true, longWait(until, fmt.Sprintf("it answers %s and asks to wait %s, until %s", statusText(got.status), asks, measure.Moment(until)), r.src.Name)
	}
	if added > 0 {
		r.count(func(t *Tally) { t.Waited += added })
		r.o.Log.Info("the source asks to wait", "status", got.status, "seconds", d.Seconds())
	}
	return true, nil
}

// statusText is code and usual words; the words the source sends are not repeated.
func statusText(code int) string {
	return strings.TrimSpace(fmt.Sprint(code, " ", http.StatusText(code)))
}
