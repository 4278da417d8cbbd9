package serve

import (
	"hash/maphash"
	"sync"
	"sync/atomic"

	"groundsheet/tiles"
)

// memory keeps ready answers within a bound of bytes. What is asked for again
// while it is there stays; the rest goes in the order in which it came (the
// eviction rule called SIEVE: Zhang and others, NSDI 2024; from memory). With a
// door, an answer is kept only when it was offered once before not long ago:
// phones that each look at other ground must not push out what all look at.
type memory struct {
	limit int
	door  []atomic.Uint32 // marks of what was offered lately; nil = all are let in
	seed  maphash.Seed

	mu    sync.RWMutex
	bytes int
	kept  map[place]*keptAnswer
	ring  keptAnswer  // newest after it, oldest before it
	hand  *keptAnswer // what is looked at next when room is wanted; nil = the oldest
}

// place is a tile of one version of one pack.
type place struct {
	site uint64
	tile tiles.ID
}

type keptAnswer struct {
	answer     *answer
	at         place
	asked      atomic.Bool // since the hand passed
	prev, next *keptAnswer
}

// overhead is about what an answer takes besides its image, in bytes.
const overhead = 600

// doorMarks is how many offers the door remembers, about.
const doorMarks = 4096

func newMemory(limit int, door bool) *memory {
	m := &memory{limit: limit, seed: maphash.MakeSeed(), kept: map[place]*keptAnswer{}}
	m.ring.prev, m.ring.next = &m.ring, &m.ring
	if door {
		m.door = make([]atomic.Uint32, doorMarks)
	}
	return m
}

// get gives a kept answer; nil when there is none.
func (m *memory) get(at place) *answer {
	m.mu.RLock()
	k := m.kept[at]
	m.mu.RUnlock()
	if k == nil {
		return nil
	}
	if !k.asked.Load() {
		k.asked.Store(true)
	}
	return k.answer
}

// known reports whether the door saw a place lately, and notes it.
func (m *memory) known(at place) bool {
	if m.door == nil {
		return true
	}
	h := maphash.Comparable(m.seed, at)
	mark := uint32(h>>32) | 1 // never that of an empty place
	return m.door[h%doorMarks].Swap(mark) == mark
}

// offer keeps an answer if the door lets it in and it is not too large for the
// whole.
func (m *memory) offer(at place, a *answer) {
	size := len(a.data) + overhead
	if size > m.limit/8 || !m.known(at) {
		return
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.kept[at] != nil {
		return
	}
	for m.bytes+size > m.limit {
		m.evict()
	}
	k := &keptAnswer{answer: a, at: at, prev: &m.ring, next: m.ring.next}
	k.prev.next, k.next.prev = k, k
	m.kept[at] = k
	m.bytes += size
}

// evict takes out the oldest answer that was not asked for since the hand
// passed it.
func (m *memory) evict() {
	k := m.hand
	if k == nil || k == &m.ring {
		k = m.ring.prev
	}
	for k.asked.Swap(false) {
		if k = k.prev; k == &m.ring {
			k = m.ring.prev
		}
	}
	m.hand = k.prev
	m.remove(k)
}

func (m *memory) remove(k *keptAnswer) {
	if m.hand == k {
		m.hand = k.prev
	}
	k.prev.next, k.next.prev = k.next, k.prev
	delete(m.kept, k.at)
	m.bytes -= len(k.answer.data) + overhead
}

// forget takes out all answers of a version of a pack.
func (m *memory) forget(site uint64) {
	m.mu.Lock()
	defer m.mu.Unlock()
	for k := m.ring.next; k != &m.ring; {
		next := k.next
		if k.at.site == site {
			m.remove(k)
		}
		k = next
	}
}

// size is how many answers are kept, and their bytes.
func (m *memory) size() (answers, bytes int) {
	m.mu.RLock()
	defer m.mu.RUnlock()
	return len(m.kept), m.bytes
}
