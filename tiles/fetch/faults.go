package fetch

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// Outside is a failure of the world outside this program: the network, the
// source, or what it answers. No text in it holds the key.
type Outside struct {
	Doing  string // e.g. "fetching tiles"
	Where  string // source and host
	Err    error  // often a *[Stopped] or an *[Incomplete]
	Remedy string // what to do
}

// Error gives all four in one line.
func (o *Outside) Error() string {
	return fmt.Sprintf("%s from %s: %v; %s", o.Doing, o.Where, o.Err, o.Remedy)
}

// Unwrap gives the cause.
func (o *Outside) Unwrap() error { return o.Err }

// Stop names why a run was ended before everything was tried.
type Stop string

// The reasons to stop.
const (
	StopNoStore     Stop = "no-store"     // the source forbids keeping what it sends
	StopPrivate     Stop = "private"      // the source sends what is for one person alone
	StopNoTransform Stop = "no-transform" // the source forbids cutting the pictures it sends
	StopRejected    Stop = "rejected"     // 401, 402, 403, 407 or 451: the source does not let us in
	StopPortal      Stop = "portal"       // 511: a captive portal answers
	StopRedirect    Stop = "redirect"     // the source sends us to another host
	StopUnreachable Stop = "unreachable"  // no connection to the host
	StopTLS         Stop = "tls"          // the host cannot prove who it is
	StopRow         Stop = "failures"     // too many tiles in a row failed
	StopRetries     Stop = "retries"      // too many requests had to be sent again
	StopWait        Stop = "wait"         // the source asks for a longer wait than a run makes
	StopBudget      Stop = "budget"       // the daily budget of the terms is used up
	StopHours       Stop = "hours"        // the terms do not allow this hour
)

// Stopped says that the run was ended early on purpose. What was fetched
// before is kept.
type Stopped struct {
	Why    Stop
	Detail string
	Until  time.Time // when it may go on; zero = not known
	Err    error     // the cause, or nil
}

// Error gives the detail and the cause.
func (s *Stopped) Error() string {
	if s.Err != nil {
		return s.Detail + ": " + s.Err.Error()
	}
	return s.Detail
}

// Unwrap gives the cause, or nil.
func (s *Stopped) Unwrap() error { return s.Err }

// Incomplete says that a run tried everything and some tiles failed.
type Incomplete struct {
	Failed  int
	Reasons []string // the first few: tile, address without the key, reason
}

// Error gives the number and the first reasons.
func (i *Incomplete) Error() string {
	return fmt.Sprintf("%d tiles failed, such as %s", i.Failed, strings.Join(i.Reasons[:min(2, len(i.Reasons))], " and "))
}

// halt ends a turn and may be waited for: nothing is wrong, it is not the time.
type halt struct {
	why    Stop
	until  time.Time // by Options.Now
	detail string
	remedy string
	trying bool // the source fails, and is asked again after a pause
}

func (h *halt) Error() string { return h.detail }

// stopOf is the *Stopped in an error, or nil.
func stopOf(err error) *Stopped {
	var s *Stopped
	if errors.As(err, &s) {
		return s
	}
	return nil
}
