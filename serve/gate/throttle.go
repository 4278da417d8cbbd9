package gate

import (
	"net/netip"
	"sync"
	"time"
)

// How wrong codes are slowed down; package gate's text has the arithmetic.
const (
	freeTries   = 5
	firstWait   = 2 * time.Second
	longestWait = time.Minute
	forgotten   = 15 * time.Minute // after that long without a try
	remembered  = 4096             // addresses of a family
)

// throttle counts wrong codes. IPv4 and IPv6 are counted apart: one machine
// can take any number of IPv6 addresses, but of a hotspot's IPv4 addresses only
// those that are free.
type throttle struct {
	now func() time.Time

	mu       sync.Mutex
	families [2]family
}

type family struct {
	wrong     map[netip.Addr]*tries
	newcomers bucket // addresses with free tries left
	others    bucket
}

// tries are the wrong codes of one address.
type tries struct {
	wrong      int
	last, next time.Time
}

func newThrottle(now func() time.Time) *throttle {
	t := &throttle{now: now}
	for i := range t.families {
		t.families[i] = family{
			wrong:     map[netip.Addr]*tries{},
			newcomers: bucket{rate: 4, most: 40, left: 40},
			others:    bucket{rate: 2, most: 10, left: 10},
		}
	}
	return t
}

// try lets from say one code. While it has to wait the code is not even looked at,
// so that a right one tells nothing; wait is then above 0. A right code takes no
// wrong one back: who may look could otherwise guess the code for marks for ever.
// Only one code is looked at at a time, so that many at once count as many.
func (t *throttle) try(from netip.Addr, right func() bool) (ok bool, wait time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	f := &t.families[0]
	if from.Is6() {
		f = &t.families[1]
	}
	had := f.wrong[from]
	if had != nil && (now.Sub(had.last) > forgotten || now.Before(had.last)) {
		delete(f.wrong, from)
		had = nil
	}
	places := &f.newcomers
	if had != nil {
		if wait := had.next.Sub(now); wait > 0 {
			return false, wait
		}
		if had.wrong >= freeTries {
			places = &f.others
		}
	}
	if !places.any(now) {
		return false, time.Second
	}
	if right() {
		return true, 0
	}
	places.left--
	f.count(from, now)
	return false, 0
}

func (f *family) count(from netip.Addr, now time.Time) {
	had := f.wrong[from]
	if had == nil {
		if len(f.wrong) >= remembered {
			f.forgetOldest()
		}
		had = &tries{}
		f.wrong[from] = had
	}
	had.wrong++
	had.last, had.next = now, now
	if over := had.wrong - freeTries; over >= 0 {
		had.next = now.Add(min(firstWait<<min(over, 10), longestWait))
	}
}

func (f *family) forgetOldest() {
	var oldest netip.Addr
	var at time.Time
	for a, h := range f.wrong {
		if !oldest.IsValid() || h.last.Before(at) {
			oldest, at = a, h.last
		}
	}
	delete(f.wrong, oldest)
}

// bucket gives rate places a second, up to most at once.
type bucket struct {
	rate, most, left float64
	at               time.Time
}

func (b *bucket) any(now time.Time) bool {
	if past := now.Sub(b.at).Seconds(); past > 0 && !b.at.IsZero() {
		b.left = min(b.most, b.left+past*b.rate)
	}
	b.at = now
	return b.left >= 1
}
