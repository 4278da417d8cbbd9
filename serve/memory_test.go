package serve

import (
	"math/rand/v2"
	"sync"
	"testing"

	"groundsheet/tiles"
)

func tileAt(n int) place { return place{1, tiles.ID{Z: 20, X: uint32(n)}} }

func ofSize(n int) *answer { return &answer{data: make([]byte, n-overhead)} }

// held counts what a memory holds, and proves its bookkeeping.
func held(t *testing.T, m *memory) int {
	t.Helper()
	n, bytes := 0, 0
	for k := m.ring.next; k != &m.ring; k = k.next {
		if m.kept[k.at] != k || k.next.prev != k {
			t.Fatal("the ring is broken")
		}
		n, bytes = n+1, bytes+len(k.answer.data)+overhead
	}
	if n != len(m.kept) || bytes != m.bytes || bytes > m.limit {
		t.Fatalf("%d in the ring, %d in the map; %d bytes, counted %d, at most %d", n, len(m.kept), bytes, m.bytes, m.limit)
	}
	return n
}

func TestMemoryIsBounded(t *testing.T) {
	m := newMemory(100_000, false)
	r := rand.New(rand.NewPCG(1, 2))
	for range 20_000 {
		at := tileAt(r.IntN(300))
		if m.get(at) == nil {
			m.offer(at, ofSize(1000+r.IntN(4000)))
		}
		if r.IntN(500) == 0 {
			m.forget(uint64(r.IntN(3)))
		}
	}
	if n := held(t, m); n < 20 {
		t.Errorf("only %d are held", n)
	}
	m.offer(tileAt(1000), ofSize(50_000))
	if m.get(tileAt(1000)) != nil {
		t.Error("one answer may take half of the room")
	}
	m.forget(1)
	if n := held(t, m); n != 0 {
		t.Errorf("%d are left of a pack that is gone", n)
	}
}

// TestMemoryKeepsWhatIsAskedFor: a hot set stays while many others pass by once.
func TestMemoryKeepsWhatIsAskedFor(t *testing.T) {
	for name, door := range map[string]bool{"door": true, "no door": false} {
		t.Run(name, func(t *testing.T) {
			m := newMemory(200_000, door)
			ask := func(n int) bool {
				if m.get(tileAt(n)) != nil {
					return true
				}
				m.offer(tileAt(n), ofSize(2000))
				return false
			}
			r := rand.New(rand.NewPCG(1, 2))
			hits := 0
			for i := range 40_000 {
				if n := r.IntN(50); ask(n) && i >= 20_000 {
					hits++
				}
				ask(1000 + i)
			}
			if hits < 19_900 {
				t.Errorf("%d of 20000 came from memory", hits)
			}
			held(t, m)
		})
	}
}

// TestDoor: what is asked for once is not kept, what is asked for twice is.
func TestDoor(t *testing.T) {
	m := newMemory(1e6, true)
	for n := range 200 {
		m.offer(tileAt(n), ofSize(1000))
	}
	if n := held(t, m); n > 2 {
		t.Errorf("%d that were asked for once are kept", n)
	}
	for n := range 200 {
		m.offer(tileAt(n), ofSize(1000))
	}
	if n := held(t, m); n < 150 {
		t.Errorf("%d of 200 that were asked for twice are kept", n)
	}
}

func TestMemoryInUse(t *testing.T) {
	m := newMemory(50_000, true)
	var wg sync.WaitGroup
	for w := range 4 {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(1, uint64(w)))
			for range 5000 {
				n := r.IntN(60)
				if a := m.get(tileAt(n)); a == nil {
					m.offer(tileAt(n), ofSize(1000+n))
				} else if len(a.data) != 1000+n-overhead {
					t.Error("another tile's answer")
				}
			}
		})
	}
	wg.Wait()
	held(t, m)
}
