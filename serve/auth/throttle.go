package auth

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"net/netip"
	"slices"
	"sync"
	"time"

	"github.com/hashicorp/golang-lru/v2/simplelru"
	"golang.org/x/time/rate"
)

// How wrong codes are slowed down; the package comment has the arithmetic.
const (
	freeTries = 5               // of an address before it waits
	tryWait   = 3 * time.Second // between further tries
	triesKept = time.Hour       // after the last wrong code
	scanEvery = time.Minute
	maxProven = 4096 // senders of a right code
)

// throttle counts wrong codes. IPv4 and IPv6 are counted apart: one machine
// can have any number of IPv6 addresses, but of a hotspot's IPv4 addresses only
// the free ones.
type throttle struct {
	now func() time.Time
	key []byte // of the digests, so that no code stays readable in memory

	mu     sync.Mutex
	v4, v6 family
	proven *simplelru.LRU[digest, struct{}] // address and code that proved right
	log    guessLog
}

// family holds the wrong codes of one address family.
type family struct {
	tries   map[netip.Addr]*tries
	max     int // addresses in tries
	nets    map[netip.Prefix]int
	netBits int
	maxNet  int // addresses of one network in tries
	shared  *rate.Limiter
	scanned time.Time
}

// digest is a keyed hash of an address and the code that it sent.
type digest [16]byte

// tries are the wrong codes of one address.
type tries struct {
	wrong      int
	last, next time.Time
	recent     [4]digest
	run        int // of [guessLog], in which
	inRun      int // were wrong
}

func newThrottle(now func() time.Time) *throttle {
	proven, _ := simplelru.NewLRU[digest, struct{}](maxProven, nil) // an error only for a size of 0
	t := &throttle{
		now: now, key: make([]byte, 32), proven: proven,
		v4: family{max: 1 << 16, maxNet: 1 << 16, shared: rate.NewLimiter(400, 400)},
		v6: family{max: 1 << 12, netBits: 64, maxNet: 254, shared: rate.NewLimiter(100, 100)},
	}
	for _, f := range []*family{&t.v4, &t.v6} {
		f.tries, f.nets = map[netip.Addr]*tries{}, map[netip.Prefix]int{}
	}
	_, _ = rand.Read(t.key) // never fails, says crypto/rand
	return t
}

// try compares one code of an address by calling right. While the address has to
// wait nothing is compared, so that a right code is not revealed; wait is then above 0.
// A code that proved right from this address passes all the same. A recent wrong one is
// wrong again at no cost: map programs send an old code with each request. A right code
// cancels no wrong one, else a viewer could guess the recorder's code forever. Codes are
// compared one at a time, so that parallel tries all count.
func (t *throttle) try(from netip.Addr, code string, right func() bool) (ok bool, wait time.Duration) {
	d := t.digest(from, code)
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	if _, proven := t.proven.Get(d); proven && right() {
		return true, 0
	}
	f := &t.v4
	if from.Is6() {
		f = &t.v6
	}
	shared := false
	had := f.lookup(from, now)
	switch {
	case had == nil && f.hasRoom(from, now): // the first try of an address is its own
	case had != nil && slices.Contains(had.recent[:], d):
		return false, 0
	case had != nil && had.next.After(now):
		return false, had.next.Sub(now)
	case f.shared.TokensAt(now) < 1:
		return false, time.Second
	default:
		shared = true
	}
	if right() {
		t.proven.Add(d, struct{}{})
		return true, 0
	}
	if shared {
		f.shared.AllowN(now, 1)
	}
	t.log.count(from, f.count(from, d, now), now)
	return false, 0
}

func (t *throttle) digest(from netip.Addr, code string) digest {
	h := hmac.New(sha256.New, t.key)
	addr := from.As16()
	h.Write(addr[:])
	h.Write([]byte(normalize(code)))
	return digest(h.Sum(nil)[:16])
}

// lookup returns the wrong codes of an address, nil if there are none or they have expired.
func (f *family) lookup(from netip.Addr, now time.Time) *tries {
	t := f.tries[from]
	if t != nil && t.expired(now) {
		f.remove(from)
		return nil
	}
	return t
}

// expired also holds if the clock was set back.
func (t *tries) expired(now time.Time) bool { return now.Sub(t.last) > triesKept || now.Before(t.last) }

// hasRoom reports whether a new address fits into the table. Scanning a full table for
// expired ones takes a while, so that happens rarely.
func (f *family) hasRoom(from netip.Addr, now time.Time) bool {
	full := func() bool { return len(f.tries) >= f.max || f.nets[f.network(from)] >= f.maxNet }
	if full() && now.Sub(f.scanned).Abs() > scanEvery {
		f.scanned = now
		for addr, t := range f.tries {
			if t.expired(now) {
				f.remove(addr)
			}
		}
	}
	return !full()
}

func (f *family) remove(from netip.Addr) {
	delete(f.tries, from)
	n := f.network(from)
	if f.nets[n]--; f.nets[n] <= 0 {
		delete(f.nets, n)
	}
}

// network returns the /64 of an IPv6 address, which one machine can have all of; all of
// IPv4 is one network here.
func (f *family) network(a netip.Addr) netip.Prefix { return netip.PrefixFrom(a, f.netBits).Masked() }

// count adds a wrong code. It returns nil for an address that does not fit into the
// table, whose tries are all shared ones.
func (f *family) count(from netip.Addr, d digest, now time.Time) *tries {
	t := f.tries[from]
	if t == nil {
		if !f.hasRoom(from, now) {
			return nil
		}
		t = &tries{}
		f.tries[from] = t
		f.nets[f.network(from)]++
	}
	t.recent[t.wrong%len(t.recent)] = d
	t.wrong++
	t.last, t.next = now, now
	if t.wrong >= freeTries {
		t.next = now.Add(tryWait)
	}
	return t
}

// Where slips end and guessing begins; the project's own choice, no source.
const (
	guessingFrom = 20               // wrong codes
	guessingOver = 10 * time.Minute // without another one
)

// Guessing describes a run of wrong codes. Equal ones from one address count once.
type Guessing struct {
	Since       time.Time `json:"since"`
	Latest      time.Time `json:"latest"`
	Wrong       int       `json:"wrong_codes"`
	Addresses   int       `json:"addresses"`    // that sent them, at least
	Busiest     string    `json:"busiest"`      // the address that sent most
	BusiestSent int       `json:"busiest_sent"` // how many it sent
}

// guessLog counts the wrong codes of the current run.
type guessLog struct {
	Guessing
	run int // number of the run
}

// count adds a wrong code; t is nil if its sender is not in the table.
func (l *guessLog) count(from netip.Addr, t *tries, now time.Time) {
	if l.over(now) {
		*l = guessLog{Guessing{Since: now}, l.run + 1}
	}
	l.Latest = now
	l.Wrong++
	if t == nil {
		return
	}
	if t.run != l.run {
		t.run, t.inRun = l.run, 0
		l.Addresses++
	}
	t.inRun++
	if t.inRun > l.BusiestSent {
		l.Busiest, l.BusiestSent = from.String(), t.inRun
	}
}

func (l *guessLog) over(now time.Time) bool {
	return now.Sub(l.Latest) > guessingOver || now.Before(l.Latest)
}

// Guessing returns the current run of wrong codes; nil if there is none, or only slips.
func (h *Handler) Guessing() *Guessing {
	if h.open {
		return nil
	}
	return h.throttle.guessing()
}

func (t *throttle) guessing() *Guessing {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.log.Wrong < guessingFrom || t.log.over(t.now()) {
		return nil
	}
	return new(t.log.Guessing)
}
