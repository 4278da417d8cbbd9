package auth

import (
	"encoding/binary"
	"fmt"
	"math"
	"net/netip"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

func wrong() bool { return false }
func right() bool { return true }

var guesses atomic.Int64

// guess says a wrong code that nobody said before.
func (t *throttle) guess(from netip.Addr) (wait time.Duration) {
	_, wait = t.try(from, fmt.Sprint(guesses.Add(1)), wrong)
	return wait
}

// tried runs a throttle for a time on a clock of its own: each step, each address
// says a wrong code. It gives how many were looked at.
func tried(from func(step int) []netip.Addr, lasts, step time.Duration) (looked int) {
	now := noon
	th := newThrottle(func() time.Time { return now })
	for i := 0; now.Sub(noon) < lasts; i++ {
		for _, a := range from(i) {
			if th.guess(a) == 0 {
				looked++
			}
		}
		now = now.Add(step)
	}
	return looked
}

func v4(n int) netip.Addr { return netip.AddrFrom4([4]byte{192, 168, byte(n >> 8), byte(n)}) }
func wide(n int) netip.Addr {
	return netip.AddrFrom4([4]byte{10, byte(n >> 16), byte(n >> 8), byte(n)})
}

// v6 are addresses of one /64, nets6 each of a /64 of its own.
func v6(n int) netip.Addr    { return addr6(0xfe80<<48, uint64(n)+1) }
func nets6(n int) netip.Addr { return addr6(0xfd00<<48|uint64(uint32(n)), 1) }

func addr6(net, host uint64) netip.Addr {
	var b [16]byte
	binary.BigEndian.PutUint64(b[:8], net)
	binary.BigEndian.PutUint64(b[8:], host)
	return netip.AddrFrom16(b)
}

// wholeLife is how many codes can be tried in the life of one, by the numbers of the
// throttle alone: the shared rate with its burst, and the first tries of all addresses that are
// remembered, each time they expire.
func wholeLife() (shared, burst, first float64) {
	th := newThrottle(time.Now)
	for _, f := range []*family{&th.v4, &th.v6} {
		shared += float64(f.shared.Limit()) * codeLife.Seconds()
		burst += float64(f.shared.Burst())
		first += float64(f.max) * (codeLife.Hours()/triesKept.Hours() + 1)
	}
	return shared, burst, first
}

// TestBruteForceArithmetic holds the throttle to the numbers in the package's text: the chance
// to guess one of two codes over their whole life is below 1 in 1,000.
func TestBruteForceArithmetic(t *testing.T) {
	shared, burst, first := wholeLife()
	chance := 2 * (shared + first) / math.Pow(10, codeDigits)
	doc, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.ReplaceAll(string(doc), ",", "")
	for _, want := range []string{
		fmt.Sprintf("(400 + 100)  = %.0f\n", shared), fmt.Sprintf("%.0f h × (65536 + 4096)      =  %.0f\n", codeLife.Hours()/triesKept.Hours()+1, first),
		fmt.Sprintf("2 × %.0f / 10^%d       = 1 in %.0f for", shared+first, codeDigits, math.Floor(1/chance)),
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the package's text lacks %q", want)
		}
	}
	if chance >= 1e-3 || burst > (shared+first)/1e5 { // the text leaves the burst out
		t.Errorf("a chance of %v, with a burst of %v", chance, burst)
	}
	one := tried(func(int) []netip.Addr { return []netip.Addr{v4(7)} }, time.Hour, time.Second)
	if one < 1190 || one > 1210 {
		t.Errorf("one address: %d tries in an hour", one)
	}
	const minutes = 1
	each := func(n int, at func(int) netip.Addr) []netip.Addr {
		all := make([]netip.Addr, n)
		for i := range all {
			all[i] = at(i)
		}
		return all
	}
	const seldom = 2 * time.Second // more tries at once than the limits let through until the next
	for name, c := range map[string]struct {
		from func(int) []netip.Addr
		step time.Duration
		most int
	}{
		"every address of a small hotspot": {func(int) []netip.Addr { return each(253, v4) }, time.Second, 253 * (5 + minutes*20 + 1)},
		"every address of a /18":           {func(int) []netip.Addr { return each(1<<14, v4) }, seldom, 400*(minutes*60+1) + 1<<14},
		"new addresses without end": {func(i int) []netip.Addr {
			return append(each(2000, func(k int) netip.Addr { return wide(i*2000 + k) }), each(2000, func(k int) netip.Addr { return v6(i*2000 + k) })...)
		}, seldom, 500*(minutes*60+1) + 1<<16 + 254},
		"new networks without end": {func(i int) []netip.Addr {
			return each(2000, func(k int) netip.Addr { return nets6(i*2000 + k) })
		}, seldom, 100*(minutes*60+1) + 1<<12},
	} {
		if got := tried(c.from, minutes*time.Minute, c.step); got > c.most {
			t.Errorf("%s: %d tries in %d minutes, at most %d", name, got, minutes, c.most)
		}
	}
}

// TestNoLockOutByFlood: whoever guesses from one address, from every address of a small
// hotspot, from most of a /16 or from IPv6 addresses without end, a newcomer with the
// right code comes in at once, and one whose address somebody guessed from before
// within three seconds.
func TestNoLockOutByFlood(t *testing.T) {
	for name, c := range map[string]struct {
		addresses int
		at        func(int) netip.Addr
		used      bool // every address a newcomer could get was used
	}{
		"one address":      {1, v4, false},
		"a small hotspot":  {253, v4, true},
		"a hotspot of /22": {1022, v4, true},
		"most of a /16":    {60000, v4, false},
		"IPv6 without end": {1 << 20, v6, false},
	} {
		t.Run(name, func(t *testing.T) {
			now := noon
			th := newThrottle(func() time.Time { return now })
			next := 0
			flood := func(d time.Duration) {
				for end := now.Add(d); now.Before(end); now = now.Add(250 * time.Millisecond) {
					for range min(c.addresses, 1000) {
						th.guess(c.at(next % c.addresses))
						next++
					}
				}
			}
			flood(15 * time.Second)
			for n := range 30 {
				flood(time.Second)
				from, waited := v4(60001+n), time.Duration(0)
				if c.used {
					from = v4(n)
				}
				for {
					ok, wait := th.try(from, viewerCode, right)
					if ok {
						break
					}
					now = now.Add(wait)
					waited += wait
				}
				if most := map[bool]time.Duration{true: 3 * time.Second}[c.used]; waited > most {
					t.Errorf("newcomer %d waits %v", n, waited)
				}
			}
		})
	}
}

// TestRightSenderIsKnown: who said the right code before is let in while somebody at the
// same address guesses, at once and each time; another right code from there is not
// looked at, so the guesser learns nothing.
func TestRightSenderIsKnown(t *testing.T) {
	now := noon
	th := newThrottle(func() time.Time { return now })
	th.try(v4(7), viewerCode, right)
	for range 600 {
		th.guess(v4(7))
		if ok, wait := th.try(v4(7), " 012-345 678 901", right); !ok || wait != 0 {
			t.Fatalf("it waits %v", wait)
		}
		now = now.Add(100 * time.Millisecond)
	}
	th.guess(v4(7))
	if ok, wait := th.try(v4(7), recorderCode, right); ok || wait <= 0 {
		t.Error("a right code is looked at while its sender has to wait: so it would be told")
	}
	if ok, wait := th.try(v4(8), viewerCode, right); !ok || wait != 0 {
		t.Errorf("another address waits %v", wait)
	}
}

// TestStaleProgram: a map program that says its old code again and again is told that
// it is wrong, and the person at the same address comes in, also after slips.
func TestStaleProgram(t *testing.T) {
	now := noon
	th := newThrottle(func() time.Time { return now })
	for i := range 1000 {
		for _, old := range []string{"111222333444", "555666777888"} {
			if ok, wait := th.try(v4(7), old, wrong); ok || wait != 0 {
				t.Fatalf("request %d with an old code: %v, wait %v", i, ok, wait)
			}
		}
		now = now.Add(20 * time.Millisecond)
	}
	for range 2 {
		th.guess(v4(7))
	}
	if ok, wait := th.try(v4(7), viewerCode, right); !ok || wait != 0 {
		t.Errorf("the person waits %v", wait)
	}
	if got := th.v4.tries[v4(7)].wrong; got != 4 {
		t.Errorf("%d wrong codes are counted, 4 were different", got)
	}
}

// TestMemoryOfAddresses: addresses without end fill no memory, those that were silent
// for an hour make room, and there is room for newcomers of other networks.
func TestMemoryOfAddresses(t *testing.T) {
	now := noon
	th := newThrottle(func() time.Time { return now })
	f := &th.v6
	for i := range 3 * f.max {
		th.guess(v6(i))
	}
	if len(f.tries) != f.maxNet || f.nets[f.network(v6(0))] != f.maxNet {
		t.Errorf("%d addresses of one network are remembered", len(f.tries))
	}
	for i := range 3 * f.max {
		th.guess(nets6(i))
	}
	if len(f.tries) != f.max {
		t.Errorf("%d addresses are remembered", len(f.tries))
	}
	now = now.Add(triesKept + time.Second)
	if th.guess(nets6(-7)) != 0 || len(f.tries) != 1 || len(f.nets) != 1 {
		t.Errorf("an hour later: %d of %d networks", len(f.tries), len(f.nets))
	}
	for i := range 2 * maxProven {
		th.try(wide(i), viewerCode, right)
		now = now.Add(time.Millisecond)
	}
	if th.proven.Len() != maxProven || !th.proven.Contains(th.digest(wide(2*maxProven-1), viewerCode)) {
		t.Errorf("%d senders of a right code are remembered", th.proven.Len())
	}
}

// TestRightCodeTakesNoWrongOneBack: who knows one code cannot guess the other with it.
func TestRightCodeTakesNoWrongOneBack(t *testing.T) {
	now := noon
	th := newThrottle(func() time.Time { return now })
	looked := 0
	for range 3600 {
		th.try(v4(7), viewerCode, right)
		if th.guess(v4(7)) == 0 {
			looked++
		}
		now = now.Add(time.Second)
	}
	if looked > 1210 {
		t.Errorf("%d tries in an hour", looked)
	}
}

// TestManyAtOnceCountAsMany: a hundred tries in the same moment are a hundred.
func TestManyAtOnceCountAsMany(t *testing.T) {
	th := newThrottle(func() time.Time { return noon })
	var looked atomic.Int64
	var wg sync.WaitGroup
	for i := range 100 {
		wg.Go(func() {
			th.try(v4(7), fmt.Sprint(i), func() bool { looked.Add(1); return false })
		})
	}
	wg.Wait()
	if looked.Load() != freeTries {
		t.Errorf("%d of 100 were looked at", looked.Load())
	}
}

func TestWaits(t *testing.T) {
	now := noon
	th := newThrottle(func() time.Time { return now })
	for i := range 12 {
		want := time.Duration(0)
		if i >= freeTries {
			want = tryWait
		}
		wait := th.guess(v4(7))
		if wait != want {
			t.Fatalf("try %d waits %v", i, wait)
		}
		if now = now.Add(wait); wait > 0 {
			th.guess(v4(7))
		}
	}
	now = now.Add(triesKept + time.Second)
	for i := range freeTries {
		if wait := th.guess(v4(7)); wait != 0 {
			t.Errorf("after an hour try %d still waits %v", i, wait)
		}
	}
	now = now.Add(-24 * time.Hour) // the laptop's clock was put right
	if wait := th.guess(v4(7)); wait != 0 {
		t.Errorf("after the clock went back it waits %v", wait)
	}
}

// TestGuessing: slips are no guessing; guessing is told with how much and from where, and
// is over some time after the last code.
func TestGuessing(t *testing.T) {
	now := noon
	th := newThrottle(func() time.Time { return now })
	for range guessingFrom - 1 {
		th.guess(v4(7))
		now = now.Add(tryWait)
	}
	for range 100 { // an old code counts once
		th.try(v4(8), "111222333444", wrong)
	}
	now = now.Add(guessingOver + time.Second)
	for range guessingFrom - 1 {
		th.guess(v4(9))
		now = now.Add(tryWait)
	}
	if g := th.guessing(); g != nil {
		t.Fatalf("slips are taken for guessing: %+v", g)
	}
	began := now.Add(-(guessingFrom - 1) * tryWait)
	th.guess(v4(10))
	g := th.guessing()
	if g == nil || g.Wrong != guessingFrom || g.Addresses != 2 || g.Busiest != "192.168.0.9" || g.BusiestSent != guessingFrom-1 || !g.Since.Equal(began) || !g.Latest.Equal(now) {
		t.Errorf("%+v", g)
	}
	now = now.Add(guessingOver + time.Second)
	if g := th.guessing(); g != nil {
		t.Errorf("it goes on: %+v", g)
	}
}
