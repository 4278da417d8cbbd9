package gate

import (
	"encoding/binary"
	"net/netip"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

func wrong() bool { return false }
func right() bool { return true }

// tried runs a throttle for a time on a clock of its own: each step, each address
// says a wrong code. It gives how many were looked at.
func tried(from func(step int) []netip.Addr, lasts, step time.Duration) (looked int) {
	now := noon
	th := newThrottle(func() time.Time { return now })
	for i := 0; now.Sub(noon) < lasts; i++ {
		for _, a := range from(i) {
			if _, wait := th.try(a, wrong); wait == 0 {
				looked++
			}
		}
		now = now.Add(step)
	}
	return looked
}

func v4(n int) netip.Addr { return netip.AddrFrom4([4]byte{192, 168, byte(n >> 8), byte(n)}) }
func v6(n int) netip.Addr {
	b := [16]byte{0xfe, 0x80}
	binary.BigEndian.PutUint64(b[8:], uint64(n)+1)
	return netip.AddrFrom16(b)
}

// TestBruteForceArithmetic holds the numbers in the package's text.
func TestBruteForceArithmetic(t *testing.T) {
	one := tried(func(int) []netip.Addr { return []netip.Addr{v4(7)} }, time.Hour, time.Second)
	if one < 40 || one > 80 {
		t.Errorf("one address: %d tries in an hour", one)
	}
	// Who waits until it is forgotten gains nothing.
	patient := tried(func(i int) []netip.Addr {
		if i%910 < 6 {
			return []netip.Addr{v4(7)}
		}
		return nil
	}, 10*time.Hour, time.Second)
	if patient > 800 {
		t.Errorf("an address that waits to be forgotten: %d tries in ten hours", patient)
	}
	hotspot := make([]netip.Addr, 253)
	for i := range hotspot {
		hotspot[i] = v4(i + 2)
	}
	if all := tried(func(int) []netip.Addr { return hotspot }, time.Hour, 500*time.Millisecond); all > 3600*6+50 {
		t.Errorf("every address of a hotspot: %d tries in an hour", all)
	}
	if all := tried(func(i int) []netip.Addr {
		fresh := make([]netip.Addr, 0, 40)
		for k := range 20 {
			fresh = append(fresh, v6(i*20+k), v4(i*20+k))
		}
		return fresh
	}, 10*time.Minute, time.Second); all > 600*8+80 { // newcomers of both families
		t.Errorf("new addresses without end: %d tries in ten minutes", all)
	}
}

// TestNoLockOutByFlood: an attacker with any number of IPv6 addresses, and one with
// an IPv4 address, keep no other phone out.
func TestNoLockOutByFlood(t *testing.T) {
	now := noon
	th := newThrottle(func() time.Time { return now })
	for i := range 20000 {
		th.try(v6(i), wrong)
		th.try(v4(7), wrong)
		if i%100 == 0 {
			now = now.Add(time.Second)
		}
	}
	if ok, wait := th.try(v4(8), right); !ok || wait != 0 {
		t.Errorf("a phone of the crew waits %v", wait)
	}
	if ok, wait := th.try(v4(7), right); ok || wait <= 0 {
		t.Error("a right code is looked at while its sender has to wait: so it would be told")
	}
}

// TestMemoryOfAddresses: addresses without end fill no memory; the oldest go.
func TestMemoryOfAddresses(t *testing.T) {
	now := noon
	th := newThrottle(func() time.Time { return now })
	for i := range remembered + 100 {
		if _, wait := th.try(v6(i), wrong); wait > 0 {
			t.Fatalf("address %d waits %v", i, wait)
		}
		now = now.Add(250 * time.Millisecond)
	}
	known := th.families[1].wrong
	if len(known) != remembered || known[v6(0)] != nil || known[v6(99)] != nil || known[v6(100)] == nil {
		t.Errorf("%d addresses are remembered", len(known))
	}
}

// TestRightCodeTakesNoWrongOneBack: who knows one code cannot guess the other with it.
func TestRightCodeTakesNoWrongOneBack(t *testing.T) {
	now := noon
	th := newThrottle(func() time.Time { return now })
	looked := 0
	for range 3600 {
		th.try(v4(7), right)
		if _, wait := th.try(v4(7), wrong); wait == 0 {
			looked++
		}
		now = now.Add(time.Second)
	}
	if looked > 80 {
		t.Errorf("%d tries in an hour", looked)
	}
}

// TestManyAtOnceCountAsMany: a hundred tries in the same moment are a hundred.
func TestManyAtOnceCountAsMany(t *testing.T) {
	th := newThrottle(func() time.Time { return noon })
	var looked atomic.Int64
	var wg sync.WaitGroup
	for range 100 {
		wg.Go(func() {
			th.try(v4(7), func() bool { looked.Add(1); return false })
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
	var waits []time.Duration
	for range 12 {
		_, wait := th.try(v4(7), wrong)
		waits = append(waits, wait)
		now = now.Add(wait)
		if wait > 0 {
			th.try(v4(7), wrong)
		}
	}
	want := []time.Duration{0, 0, 0, 0, 0, 2, 4, 8, 16, 32, 60, 60}
	for i := range want {
		if waits[i] != want[i]*time.Second {
			t.Fatalf("%v", waits)
		}
	}
	now = now.Add(forgotten + time.Second)
	if _, wait := th.try(v4(7), wrong); wait != 0 {
		t.Errorf("after a quarter of an hour it still waits %v", wait)
	}
	now = now.Add(-24 * time.Hour) // the laptop's clock was put right
	if _, wait := th.try(v4(7), wrong); wait != 0 {
		t.Errorf("after the clock went back it waits %v", wait)
	}
}
