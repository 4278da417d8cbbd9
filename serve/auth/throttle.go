package auth

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"net/netip"
	"slices"
	"sync"
	"time"
)

// How wrong codes are slowed down; package gate's text has the arithmetic.
const (
	freeTries = 5 // before an address waits
	eachWait  = 3 * time.Second
	forgotten = time.Hour // after that long without a wrong code
	tidyEvery = time.Minute
	mostRight = 4096 // senders of a right code that are remembered
)

// throttle counts wrong codes. IPv4 and IPv6 are counted apart: one machine
// can take any number of IPv6 addresses, but of a hotspot's IPv4 addresses only
// those that are free.
type throttle struct {
	now func() time.Time
	key []byte // of the digests; no code is kept in a form that could be read

	mu       sync.Mutex
	families [2]family
	right    map[digest]time.Time // address and code that proved right, and when last
	episode  episode
}

// family is what is known of the addresses of IPv4, or of IPv6.
type family struct {
	wrong   map[netip.Addr]*tries
	most    int // addresses in wrong
	nets    map[netip.Prefix]int
	mostNet int // addresses of one /64 in wrong; 0 = as many as there is room for
	places  bucket
	tidied  time.Time
}

// digest is an address and the code that it said.
type digest [16]byte

// tries are the wrong codes of one address.
type tries struct {
	wrong      int
	last, next time.Time
	said       [4]digest // the latest ones
	episode    int       // the one that seen counts in
	seen       int
}

func newThrottle(now func() time.Time) *throttle {
	t := &throttle{now: now, key: make([]byte, 32), right: map[digest]time.Time{}}
	_, _ = rand.Read(t.key) // never fails, says crypto/rand
	t.families = [2]family{
		{wrong: map[netip.Addr]*tries{}, most: 1 << 16, places: bucket{rate: 400, most: 400, left: 400}},
		{wrong: map[netip.Addr]*tries{}, most: 1 << 12, places: bucket{rate: 100, most: 100, left: 100}, nets: map[netip.Prefix]int{}, mostNet: 254},
	}
	return t
}

// try lets from say one code. While it has to wait the code is not even looked at,
// so that a right one tells nothing; wait is then above 0. What proved right from
// this address before passes all the same, and what proved wrong is wrong again,
// at no cost: a map program says its old code with each request. A right code takes
// no wrong one back: who may look could otherwise guess the code for marks for ever.
// Only one code is looked at at a time, so that many at once count as many.
func (t *throttle) try(from netip.Addr, code string, right func() bool) (ok bool, wait time.Duration) {
	d := t.digest(from, code)
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	if _, known := t.right[d]; known && right() {
		t.right[d] = now
		return true, 0
	}
	f := &t.families[0]
	if from.Is6() {
		f = &t.families[1]
	}
	had := f.known(from, now)
	switch {
	case had == nil && f.room(from, now): // the first try of an address takes no place from others
	case had != nil && slices.Contains(had.said[:], d):
		return false, 0
	case had != nil && had.next.After(now):
		return false, had.next.Sub(now)
	case !f.places.any(now):
		return false, time.Second
	default:
		defer func() {
			if !ok {
				f.places.left--
			}
		}()
	}
	if right() {
		t.remember(d, now)
		return true, 0
	}
	t.episode.count(from, f.count(from, d, now), now)
	return false, 0
}

func (t *throttle) digest(from netip.Addr, code string) (d digest) {
	h := hmac.New(sha256.New, t.key)
	at := from.As16()
	h.Write(at[:])
	h.Write([]byte(plain(code)))
	copy(d[:], h.Sum(nil))
	return d
}

// remember keeps a sender of a right code; the one unheard of for longest goes.
func (t *throttle) remember(d digest, now time.Time) {
	if len(t.right) >= mostRight {
		var oldest digest
		at := now
		for one, last := range t.right {
			if !last.After(at) {
				oldest, at = one, last
			}
		}
		delete(t.right, oldest)
	}
	t.right[d] = now
}

// known gives the wrong codes of an address, nil when there are none that count.
func (f *family) known(from netip.Addr, now time.Time) *tries {
	had := f.wrong[from]
	if had != nil && had.past(now) {
		f.forget(from)
		return nil
	}
	return had
}

// past tells whether an address was silent for long, or the clock was put back.
func (h *tries) past(now time.Time) bool { return now.Sub(h.last) > forgotten || now.Before(h.last) }

// room tells whether an address that is not known may be remembered.
func (f *family) room(from netip.Addr, now time.Time) bool {
	full := func() bool { return len(f.wrong) >= f.most || f.mostNet > 0 && f.nets[net64(from)] >= f.mostNet }
	if full() && now.Sub(f.tidied).Abs() > tidyEvery { // reading all takes a while
		f.tidied = now
		for a, h := range f.wrong {
			if h.past(now) {
				f.forget(a)
			}
		}
	}
	return !full()
}

func (f *family) forget(from netip.Addr) {
	delete(f.wrong, from)
	if f.nets == nil {
		return
	}
	n := net64(from)
	if f.nets[n]--; f.nets[n] <= 0 {
		delete(f.nets, n)
	}
}

// count notes a wrong code. It gives nil for an address there is no room for: each
// of its tries takes a place.
func (f *family) count(from netip.Addr, d digest, now time.Time) *tries {
	had := f.wrong[from]
	if had == nil {
		if !f.room(from, now) {
			return nil
		}
		had = &tries{}
		f.wrong[from] = had
		if f.nets != nil {
			f.nets[net64(from)]++
		}
	}
	had.said[had.wrong%len(had.said)] = d
	had.wrong++
	had.last, had.next = now, now
	if had.wrong >= freeTries {
		had.next = now.Add(eachWait)
	}
	return had
}

// net64 is the /64 of an IPv6 address: as much as one network has, and one machine
// may take.
func net64(a netip.Addr) netip.Prefix { return netip.PrefixFrom(a, 64).Masked() }

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
