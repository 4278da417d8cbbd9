// Package cache keeps values that are costly to make: a [Cache] of many within a
// bound of bytes, and [Once] for one.
package cache

import (
	"container/list"
	"fmt"
	"hash/maphash"
	"sync"
	"sync/atomic"

	"golang.org/x/sync/singleflight"
)

// Cache maps keys to values within a bound of bytes. It evicts by SIEVE (Zhang and
// others, NSDI 2024): in the order of insertion, passing over entries that were read
// since the hand passed them last. It is safe for concurrent use. Make it with [New].
type Cache[K comparable, V any] struct {
	limit  int
	size   func(V) int
	seed   maphash.Seed
	recent []atomic.Uint32 // the doorkeeper: fingerprints of keys offered lately; nil = every key is admitted
	making singleflight.Group

	mu      sync.RWMutex
	bytes   int
	entries map[K]*list.Element // of *entry[K, V]
	order   *list.List          // newest first
	hand    *list.Element       // the next candidate for eviction; nil = the oldest
}

type entry[K comparable, V any] struct {
	key   K
	value V
	read  atomic.Bool // since the hand passed
}

// overhead approximates what an entry takes besides its value, in bytes.
const overhead = 600

// doorkeeperSize is about how many offers the doorkeeper remembers.
const doorkeeperSize = 4096

// New makes a cache of so many bytes; size gives those of a value.
func New[K comparable, V any](limit int, size func(V) int) *Cache[K, V] {
	return &Cache[K, V]{limit: limit, size: size, seed: maphash.MakeSeed(), entries: map[K]*list.Element{},
		order: list.New()}
}

// WithDoorkeeper makes the cache admit only keys that were offered once before, not
// long ago: readers of many different values do not displace those that all read.
func (c *Cache[K, V]) WithDoorkeeper() *Cache[K, V] {
	c.recent = make([]atomic.Uint32, doorkeeperSize)
	return c
}

// Get gives a cached value.
func (c *Cache[K, V]) Get(key K) (v V, ok bool) {
	c.mu.RLock()
	element := c.entries[key]
	c.mu.RUnlock()
	if element == nil {
		return v, false
	}
	e := element.Value.(*entry[K, V])
	if !e.read.Load() {
		e.read.Store(true)
	}
	return e.value, true
}

// Offer caches a value if the doorkeeper admits its key, and it takes no more than
// an eighth of the cache.
func (c *Cache[K, V]) Offer(key K, v V) {
	size := c.size(v) + overhead
	if size > c.limit/8 || !c.admits(key) {
		return
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.entries[key] != nil {
		return
	}
	for c.bytes+size > c.limit {
		c.evict()
	}
	c.entries[key] = c.order.PushFront(&entry[K, V]{key: key, value: v})
	c.bytes += size
}

// admits reports whether the key was offered lately, and remembers that it is now.
func (c *Cache[K, V]) admits(key K) bool {
	if c.recent == nil {
		return true
	}
	h := maphash.Comparable(c.seed, key)
	fingerprint := uint32(h>>32) | 1 // never that of an empty place
	return c.recent[h%doorkeeperSize].Swap(fingerprint) == fingerprint
}

// evict removes the oldest entry that was not read since the hand passed it.
func (c *Cache[K, V]) evict() {
	if c.hand == nil {
		c.hand = c.order.Back()
	}
	for c.hand.Value.(*entry[K, V]).read.Swap(false) {
		if c.hand = c.hand.Prev(); c.hand == nil {
			c.hand = c.order.Back()
		}
	}
	c.remove(c.hand)
}

func (c *Cache[K, V]) remove(element *list.Element) {
	if c.hand == element {
		c.hand = element.Prev()
	}
	e := c.order.Remove(element).(*entry[K, V])
	delete(c.entries, e.key)
	c.bytes -= c.size(e.value) + overhead
}

// DeleteFunc removes the entries whose keys match.
func (c *Cache[K, V]) DeleteFunc(match func(K) bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for key, element := range c.entries {
		if match(key) {
			c.remove(element)
		}
	}
}

// Size is the number of entries, and their bytes.
func (c *Cache[K, V]) Size() (entries, bytes int) {
	c.mu.RLock()
	defer c.mu.RUnlock()
	return len(c.entries), c.bytes
}

// Make gives the cached value of a key, or makes and offers it: once for all callers
// that ask meanwhile. Errors are shared by them and not cached; a panic, as hostile
// input may cause, is an error.
func (c *Cache[K, V]) Make(key K, produce func() (V, error)) (V, error) {
	v, err, _ := c.making.Do(fmt.Sprint(key), func() (any, error) {
		if v, ok := c.Get(key); ok {
			return v, nil
		}
		v, err := guarded(produce)
		if err == nil {
			c.Offer(key, v)
		}
		return v, err
	})
	return v.(V), err
}

// guarded turns a panic into an error.
func guarded[V any](produce func() (V, error)) (v V, err error) {
	defer func() {
		if cause := recover(); cause != nil {
			err = fmt.Errorf("the content cannot be decoded: %v", cause)
		}
	}()
	return produce()
}

// Once is a value that is made when it is first asked for, and kept. An error is not
// kept: callers that wait share it, and the next call tries again. The zero value is
// ready.
type Once[V any] struct {
	made   atomic.Pointer[V]
	making singleflight.Group
}

// Get gives the value. A panic of produce is an error.
func (o *Once[V]) Get(produce func() (V, error)) (v V, err error) {
	if made := o.made.Load(); made != nil {
		return *made, nil
	}
	_, err, _ = o.making.Do("", func() (any, error) {
		if o.made.Load() != nil {
			return nil, nil
		}
		v, err := guarded(produce)
		if err == nil {
			o.made.Store(&v)
		}
		return nil, err
	})
	if err != nil {
		return v, err
	}
	return *o.made.Load(), nil
}
