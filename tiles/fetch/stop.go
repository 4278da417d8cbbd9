package fetch

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"groundsheet/tiles/fault"
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
	var s *Stop
	if errors.As(err, &s) {
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
	return fmt.Sprintf("%d tiles failed, such as %s", i.Failed, strings.Join(i.Reasons[:min(2, len(i.Reasons))], " and "))
}
