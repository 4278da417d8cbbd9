package fetch

import (
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/fetch/httpget"
	"groundsheet/tiles/fetch/pace"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
)

// Failed is the kind of all failures that lie outside this program: the
// network, the source, or what it sends. The fault wraps a *[Stop] or an
// *[Incomplete].
var Failed = fault.Outside("fetching failed")

// Reason names why requests end.
type Reason string

// The reasons to stop.
const (
	StopNoStore     Reason = "no-store"     // the source forbids keeping what it sends
	StopPrivate     Reason = "private"      // the source sends what is for one user alone
	StopNoTransform Reason = "no-transform" // the source forbids cutting the pictures it sends
	StopRejected    Reason = "rejected"     // 401, 402, 403, 407 or 451: the source does not let us in
	StopPortal      Reason = "portal"       // 511: a captive portal answers
	StopRedirect    Reason = "redirect"     // the source sends us to another host
	StopUnreachable Reason = "unreachable"  // no connection to the host
	StopTLS         Reason = "tls"          // the host cannot prove who it is
	StopRow         Reason = "failures"     // too many tiles in a row failed
	StopRetries     Reason = "retries"      // too many requests had to be sent again
	StopWait        Reason = "wait"         // the source asks for a longer wait than a run makes
	StopBudget      Reason = "budget"       // the daily budget of the terms is used up
	StopHours       Reason = "hours"        // the terms do not allow this hour
)

// Stop says why requests end. The package comment has the table of its scopes.
// Callers of [Run] read Why: what to do next depends on it.
type Stop struct {
	Why    Reason    // "" in the scopes of one tile
	Detail string    // without the key
	Err    error     // the cause, or nil; without the key
	Until  time.Time // when it may go on, by Options.Now; zero = unknown

	scope       scope
	remedy      string
	outage      bool // 500, 502, 503, 504 or the network: held tiles may stand in (RFC 5861, 4)
	unreachable bool // there was no connection at all
	paced       bool // the source said how long to wait: the limiter holds all workers
	plain       bool // the next try goes without validators
}

// scope is what a Stop ends.
type scope int

const (
	scopeTry   scope = iota // one request for a tile
	scopeTile               // all requests for a tile
	scopeQueue              // the wait of a request that has not left
	scopeLease              // all requests until later
	scopeRun                // all requests
)

// Error is the detail with the cause.
func (s *Stop) Error() string {
	if s.Err != nil {
		return s.Detail + ": " + s.Err.Error()
	}
	return s.Detail
}

// Unwrap gives the cause, or nil.
func (s *Stop) Unwrap() error { return s.Err }

// stopOf is the *Stop in an error, or nil.
func stopOf(err error) *Stop {
	if s, ok := errors.AsType[*Stop](err); ok {
		return s
	}
	return nil
}

// stopRun is a Stop that ends the run, without the key of the source.
func stopRun(src source.Source, why Reason, detail string, cause error, remedy string) *Stop {
	if cause != nil && src.Redact(cause.Error()) != cause.Error() {
		cause = errors.New(src.Redact(cause.Error()))
	}
	return &Stop{Why: why, Detail: src.Redact(detail), Err: cause, scope: scopeRun, remedy: remedy}
}

// retry is a Stop that ends one request.
func retry(detail string) *Stop { return &Stop{Detail: detail} }

// Incomplete says that a run tried everything and some tiles failed. It is a
// type of its own because callers list the reasons.
type Incomplete struct {
	Failed  int
	Reasons []string // the first few: tile, address without the key, reason
}

// Error gives the number and the first reasons.
func (i *Incomplete) Error() string {
	return fmt.Sprintf("%s failed, such as %s", measure.Count(i.Failed, "tile"), strings.Join(i.Reasons[:min(2, len(i.Reasons))], " and "))
}

// status sorts the responses without an image. nil means that it says something
// of the tile: see [recorder.outcomes].
func (q *requester) status(got reply, body io.Reader, left time.Time) error {
	text := httpget.StatusText(got.Status)
	switch got.Status {
	case 204, 304, 404, 410:
		return nil
	case 401, 402, 403, 407, 451:
		if words := q.refusal(got.Header, body); words != "" {
			text += " and says “" + words + "”"
		}
		return stopRun(q.src, StopRejected, "the source does not let us in: it answers "+text, nil,
			"check the key and the terms of the source, and whether the address in sources.toml is right")
	case 511:
		return stopRun(q.src, StopPortal, "a captive portal answers instead of the source ("+text+")", nil,
			"sign in to the network in a browser, then run again")
	case 408, 425, 429, 500, 502, 503, 504:
		return q.busy(got, left)
	}
	return &Stop{scope: scopeTile, Detail: "an unexpected answer: " + text}
}

// busy is a response that may be another one soon.
func (q *requester) busy(got reply, left time.Time) error {
	if got.Status == http.StatusTooManyRequests {
		if rate, slower := q.pace.SlowDown(left); slower {
			q.o.Log.Warn("the source finds us too fast, the rate is halved", "per_second", rate)
		}
	}
	paced, err := q.pause(got)
	if err != nil {
		return err
	}
	s := retry("the source answers " + httpget.StatusText(got.Status))
	s.paced, s.outage = paced, got.Status >= 500
	return s
}

// pause makes every worker wait as long as the response asks.
func (q *requester) pause(got reply) (paced bool, err error) {
	d, ok := pace.RetryAfter(got.Header, got.Received)
	if !ok {
		return false, nil
	}
	asks := measure.Duration(d)
	if d > pace.LongestWait {
		d, asks = pace.LongestWait, fmt.Sprintf("%s; no more than %s of it is kept to", asks,
			measure.Duration(pace.LongestWait))
	}
	added := q.pace.Pause(d) // also for the runs after this one
	if d > pace.LongestPause {
		until := got.Received.Add(d)
		detail := fmt.Sprintf("it answers %s and asks to wait %s, until %s", httpget.StatusText(got.Status),
			asks, measure.Moment(until))
		return true, longWait(until, detail, q.src.Name)
	}
	if added > 0 {
		q.count(func(t *Tally) { t.Waited += added })
		q.o.Log.Info("the source asks to wait", "status", got.Status, "seconds", d.Seconds())
	}
	return true, nil
}

// longWait is a wait that the source asks for and that no run sits out unasked.
func longWait(until time.Time, detail, name string) *Stop {
	return &Stop{
		Why: StopWait, Detail: detail, Until: until, scope: scopeLease, outage: true,
		remedy: "run again after that time (what came is kept), or look whether it answers before: groundsheet source try " + name,
	}
}

// redirect gives where to ask instead. stated is the address that the source
// states: leaving its host would leave its terms, unless the operator named the
// other one.
func (q *requester) redirect(stated string, resp *http.Response, got reply) (next string, err error) {
	from := resp.Request.URL
	to, err := resp.Location()
	if err != nil {
		return "", retry(fmt.Sprintf("a redirect (%s) to nowhere", httpget.StatusText(got.Status)))
	}
	home, err := url.Parse(stated)
	if err != nil {
		return "", err
	}
	if from.Scheme == "https" && to.Scheme != "https" {
		home = from // a hop before this one was encrypted
	}
	var f *fault.Fault
	switch err := q.src.AllowsHost(home, to); {
	case errors.Is(err, source.OtherHost) && errors.As(err, &f):
		return "", stopRun(q.src, StopRedirect, f.Detail, nil, f.Remedy)
	case err != nil:
		return "", err
	}
	if _, err := q.pause(got); err != nil {
		return "", err
	}
	return to.String(), nil
}

const (
	refusalLength = 200     // characters of a source's own words that are repeated
	refusalPage   = 8 << 10 // bytes of its page that are read for them
)

var markup = regexp.MustCompile(`(?is)<(?:script|style|head)\b.*?</(?:script|style|head)>|<[^>]*>`)

// refusal is the first line of what a source says when it does not let us in:
// cleaned, cut to 200 characters, without the key; "" for none.
func (q *requester) refusal(h http.Header, body io.Reader) string {
	kind, _, _ := mime.ParseMediaType(h.Get("Content-Type"))
	isText := func(part string) bool { return strings.Contains(kind, part) }
	if kind != "" && !slices.ContainsFunc([]string{"text/", "json", "xml"}, isText) {
		return ""
	}
	page, _ := io.ReadAll(io.LimitReader(body, refusalPage)) // what came of it is enough
	q.count(func(t *Tally) { t.Received += int64(len(page)) })
	text := q.src.Redact(strings.ToValidUTF8(string(page), "")) // before anything is cut from it
	if len(page) == refusalPage {
		text = text[:max(len(text)-1<<10, 0)] // its end may be a part of the key
	}
	for line := range strings.Lines(markup.ReplaceAllString(text, " ")) {
		line = strings.Join(strings.FieldsFunc(line,
			func(c rune) bool { return unicode.IsSpace(c) || !unicode.IsPrint(c) }), " ")
		if line == "" {
			continue
		}
		line = q.src.Redact(line) // markup may have been inside the key
		if cut := []rune(line); len(cut) > refusalLength {
			return string(cut[:refusalLength]) + "…"
		}
		return line
	}
	return ""
}
