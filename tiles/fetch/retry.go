package fetch

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"groundsheet/tiles/fetch/httpcache"
	"groundsheet/tiles/fetch/pace"
	"groundsheet/tiles/measure"
)

const (
	failuresInRow  = 10               // then the source is taken to be down
	longestBackoff = 30 * time.Second // between two tries for one tile
)

// settle asks for a job until there is an answer or the attempts are used up.
// No outcome and no error is a failed job.
func (r *run) settle(ctx context.Context, j task) ([]outcome, error) {
	address, err := r.src.BlockAddress(j.first)
	if err != nil {
		return nil, err
	}
	if err := r.requests.lease.quota.open(); err != nil {
		return nil, err
	}
	with := shared(j.wants)
	for attempt := 1; ; attempt++ {
		var got []outcome
		rep, err := r.requests.get(ctx, address, with, len(j.wants))
		if err == nil {
			got, err = r.recorder.outcomes(j, with, rep)
		}
		s := stopOf(err)
		switch {
		case err == nil:
			r.answered()
			return got, nil
		case s == nil || s.scope > scopeTile:
			return nil, r.standInstead(j, err)
		case s.scope == scopeTile || attempt >= r.o.Attempts || r.outage.active():
			return nil, r.failed(j, address, attempt, s)
		case s.plain:
			with = httpcache.Validators{}
		}
		r.o.Log.Debug("tile is asked for again", "tile", j.first.String(), "attempt", attempt, "reason", s.Error())
		if err := r.again(ctx, attempt, s); err != nil {
			return nil, r.standInstead(j, err)
		}
	}
}

// again counts a retry and waits before it, unless the source said how long to
// wait: then the limiter holds every worker.
func (r *run) again(ctx context.Context, attempt int, s *Stop) error {
	wait := min(r.o.Backoff<<min(attempt-1, 16), longestBackoff)
	wait = wait/2 + rand.N(wait) // so that workers do not come back together
	if s.paced {
		wait = 0
	}
	tally, allowed := r.retry(wait)
	if allowed {
		return r.requests.lease.wait(ctx, func(ctx context.Context) error { return pace.Sleep(ctx, wait) })
	}
	if r.outage.goesOn(s) {
		return s.untilAnswered()
	}
	detail := fmt.Sprintf("%d of %s had to be sent again, the last one because: %s", tally.Retries,
		measure.Count(tally.Requests, "request"), s.Detail)
	return stopRun(r.src, StopRetries, detail, s.Err,
		"the source is in trouble: run again when it has recovered; what came is kept")
}

// answered notes that the source works.
func (r *run) answered() {
	r.row(false)
	r.outage.answered()
	r.pace.Probe(false)
}

// failed counts a job that is given up, or puts it aside. An error ends the
// lease or the run.
func (r *run) failed(j task, address string, attempts int, s *Stop) error {
	reason := fmt.Sprintf("%s (%s): %s", j.first, r.src.Redact(address), r.src.Redact(s.Error()))
	if attempts > 1 {
		reason += fmt.Sprintf(" (%d times)", attempts)
	}
	r.o.Log.Warn("tile failed", "reason", reason)
	inRow := r.row(true)
	if r.outage.goesOn(s) {
		if s.unreachable || inRow >= failuresInRow || attempts == 1 {
			return s.untilAnswered()
		}
		r.queue.setAside(j)
		return nil
	}
	lost := r.standInSome(j, s.outage)
	r.giveUp(lost, reason)
	var end *Stop
	switch {
	case s.unreachable:
		end = stopRun(r.src, StopUnreachable, s.Detail+r.outage.triedFor(), s.Err,
			"check the network and the address in sources.toml, then run again: what came is kept")
	case inRow >= failuresInRow:
		end = stopRun(r.src, StopRow, fmt.Sprintf("%d tiles in a row failed, the last one %s", inRow, reason), nil,
			"look at the reason, then run again: what came is kept")
	default:
		return nil
	}
	if lost > 0 {
		return end
	}
	end.outage = s.outage
	r.useHeldOnly(end)
	return nil
}

// mayStandIn reports whether a stale tile may be used. outage is a response of
// 500, 502, 503 or 504, or none at all.
func (o Options) mayStandIn(w Want, outage bool) bool {
	now := o.Now()
	return w.held() && (o.StandIn || outage && now.Before(w.Held.UsableUntil) && !w.Held.Ahead(now))
}

// standInSome counts the wants of a job that may stand in; lost is the rest.
func (r *run) standInSome(j task, outage bool) (lost int) {
	for _, w := range j.wants {
		if !r.o.mayStandIn(w, outage) {
			lost++
		}
	}
	r.count(func(t *Tally) { t.StoodIn += len(j.wants) - lost })
	return lost
}

// standInAll ends a job without asking, or is the Stop if one of its tiles may
// not stand in.
func (r *run) standInAll(j task, s *Stop) error {
	if slices.ContainsFunc(j.wants, func(w Want) bool { return !r.o.mayStandIn(w, s.outage) }) {
		return s
	}
	r.standInSome(j, s.outage)
	return nil
}

// standInstead gives the error back, unless it means that the source fails and
// all of the job may stand in.
func (r *run) standInstead(j task, err error) error {
	s := stopOf(err)
	fails := s != nil && (s.Why == StopRetries || s.Why == StopWait && !r.o.Patient)
	if !fails || r.standInAll(j, s) != nil {
		return err
	}
	r.useHeldOnly(s)
	return nil
}

// useHeldOnly ends all requests of the run. The first reason counts.
func (r *run) useHeldOnly(s *Stop) {
	r.o.Log.Warn("the source is not asked any more; what is held stands in", "reason", s)
	end := *s
	end.scope = scopeRun
	r.heldMu.Lock()
	if r.heldOnly == nil {
		r.heldOnly = &end
	}
	r.heldMu.Unlock()
	r.requests.lease.close(nil)
}

// onlyHeld is why nothing is asked any more, or nil.
func (r *run) onlyHeld() *Stop {
	r.heldMu.Lock()
	defer r.heldMu.Unlock()
	return r.heldOnly
}
