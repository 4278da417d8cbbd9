package fetch

import "slices"

// mayStandIn reports whether a stale tile may be used. outage is a response of
// 500, 502, 503 or 504, or none at all.
func (o Options) mayStandIn(w Want, outage bool) bool {
	now := o.Now()
	return w.held() && (o.StandIn || outage && now.Before(w.Held.UsableUntil) && !w.Held.Ahead(now))
}

// standInSome counts the wants of a job that may stand in; lost is the rest.
func (r *run) standInSome(j job, outage bool) (lost int) {
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
func (r *run) standInAll(j job, s *Stop) error {
	if slices.ContainsFunc(j.wants, func(w Want) bool { return !r.o.mayStandIn(w, s.outage) }) {
		return s
	}
	r.standInSome(j, s.outage)
	return nil
}

// standInstead gives the error back, unless it means that the source fails and
// all of the job may stand in.
func (r *run) standInstead(j job, err error) error {
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
