package fetch

import (
	"errors"
)

// down says that the source is not asked any more in this run: what is left
// stands in, as far as it is held.
type down struct {
	err    error // why; the end of the run as soon as something cannot stand in
	outage bool  // a failure that RFC 5861, 4 speaks of
}

// mayStandIn reports whether what is held may be used though it is no longer
// fresh. outage is an answer of 500, 502, 503 or 504, or none at all.
func (r *run) mayStandIn(w Want, outage bool) bool {
	now := r.o.Now()
	return w.held() && (r.o.StandIn || outage && now.Before(w.Held.UsableUntil) && !w.Held.Ahead(now))
}

// standInSome counts the wants of a job that may stand in; lost is the rest.
func (r *run) standInSome(j job, outage bool) (lost int) {
	for _, w := range j.wants {
		if !r.mayStandIn(w, outage) {
			lost++
		}
	}
	r.count(func(t *Tally) { t.StoodIn += len(j.wants) - lost })
	return lost
}

// standInAll takes a job without asking; when a tile of it is not held or may
// not stand in, the run ends for the reason the source went down.
func (r *run) standInAll(j job, d *down) error {
	for _, w := range j.wants {
		if !r.mayStandIn(w, d.outage) {
			return d.err
		}
	}
	r.standInSome(j, d.outage)
	return nil
}

func (r *run) isDown() *down {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.down
}

// goDown ends asking. The first reason counts.
func (r *run) goDown(err error, outage bool) {
	r.o.Log.Warn("the source is not asked any more; what is held stands in", "reason", err)
	r.mu.Lock()
	if r.down == nil {
		r.down = &down{err, outage}
	}
	r.mu.Unlock()
	r.ends.wake()
}

// endOrStand gives the error back, unless it means that the source fails and
// all of the job may stand in.
func (r *run) endOrStand(j job, err error) error {
	var h *halt
	if errors.As(err, &h) {
		if h.why != StopWait || r.o.Patient {
			return err
		}
		err = r.haltError(h)
	}
	s := stopOf(err)
	if s == nil || s.Why != StopWait && s.Why != StopRetries {
		return err
	}
	d := &down{err, s.Why == StopWait}
	if r.standInAll(j, d) != nil {
		if h != nil {
			return h
		}
		return err
	}
	r.goDown(d.err, d.outage)
	return nil
}

func (r *run) haltError(h *halt) error {
	return r.outside(&Stopped{Why: h.why, Detail: r.src.Redact(h.detail), Until: h.until}, h.remedy)
}
