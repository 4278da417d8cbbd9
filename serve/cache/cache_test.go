package cache

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"sync/atomic"
	"testing"
)

// key is a number of a group.
type key struct{ group, n int }

func keyOf(n int) key { return key{1, n} }

func newOf(limit int) *Cache[key, []byte] {
	return New[key](limit, func(v []byte) int { return len(v) })
}

func ofSize(n int) []byte { return make([]byte, n-overhead) }

// count counts the entries of a cache, and proves its bookkeeping.
func count(t *testing.T, c *Cache[key, []byte]) int {
	t.Helper()
	n, bytes := 0, 0
	for e := c.order.Front(); e != nil; e = e.Next() {
		k := e.Value.(*entry[key, []byte])
		if c.entries[k.key] != e {
			t.Fatal("the map and the order differ")
		}
		n, bytes = n+1, bytes+len(k.value)+overhead
	}
	if n != len(c.entries) || bytes != c.bytes || bytes > c.limit {
		t.Fatalf("%d in the order, %d in the map; %d bytes, counted %d, at most %d", n, len(c.entries), bytes, c.bytes, c.limit)
	}
	return n
}

func Example() {
	c := New[string](1<<20, func(v string) int { return len(v) })
	for range 2 {
		v, err := c.Make("one", func() (string, error) { fmt.Println("made"); return "1", nil })
		fmt.Println(v, err)
	}
	// Output:
	// made
	// 1 <nil>
	// 1 <nil>
}

func TestBounded(t *testing.T) {
	c := newOf(100_000)
	r := rand.New(rand.NewPCG(1, 2))
	for range 20_000 {
		at := keyOf(r.IntN(300))
		if _, ok := c.Get(at); !ok {
			c.Offer(at, ofSize(1000+r.IntN(4000)))
		}
		if r.IntN(500) == 0 {
			group := r.IntN(3)
			c.DeleteFunc(func(k key) bool { return k.group == group })
		}
	}
	if n := count(t, c); n < 20 {
		t.Errorf("only %d are cached", n)
	}
	c.Offer(keyOf(1000), ofSize(50_000))
	if _, ok := c.Get(keyOf(1000)); ok {
		t.Error("one value may take half of the room")
	}
	c.DeleteFunc(func(k key) bool { return k.group == 1 })
	if n := count(t, c); n != 0 {
		t.Errorf("%d are left of a group that was deleted", n)
	}
}

// TestScanResistance: a hot set stays while many others pass by once.
func TestScanResistance(t *testing.T) {
	for name, c := range map[string]*Cache[key, []byte]{"doorkeeper": newOf(200_000).WithDoorkeeper(), "none": newOf(200_000)} {
		t.Run(name, func(t *testing.T) {
			ask := func(n int) bool {
				if _, ok := c.Get(keyOf(n)); ok {
					return true
				}
				c.Offer(keyOf(n), ofSize(2000))
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
				t.Errorf("%d of 20000 came from the cache", hits)
			}
			count(t, c)
		})
	}
}

// TestDoorkeeper: what is asked for once is not kept, what is asked for twice is.
func TestDoorkeeper(t *testing.T) {
	c := newOf(1e6).WithDoorkeeper()
	for n := range 200 {
		c.Offer(keyOf(n), ofSize(1000))
	}
	if n := count(t, c); n > 2 {
		t.Errorf("%d that were asked for once are kept", n)
	}
	for n := range 200 {
		c.Offer(keyOf(n), ofSize(1000))
	}
	if n := count(t, c); n < 150 {
		t.Errorf("%d of 200 that were asked for twice are kept", n)
	}
}

func TestConcurrentUse(t *testing.T) {
	c := newOf(50_000).WithDoorkeeper()
	var wg sync.WaitGroup
	for w := range 4 {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(1, uint64(w)))
			for range 5000 {
				n := r.IntN(60)
				if v, ok := c.Get(keyOf(n)); !ok {
					c.Offer(keyOf(n), ofSize(1000+n))
				} else if len(v) != 1000+n-overhead {
					t.Error("another key's value")
				}
			}
		})
	}
	wg.Wait()
	count(t, c)
}

// TestMake: a value is made once however many ask at once; errors are not kept.
func TestMake(t *testing.T) {
	c := newOf(1 << 20)
	var made atomic.Int32
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for i := range 256 {
				v, err := c.Make(keyOf(i), func() ([]byte, error) { made.Add(1); return fmt.Append(nil, i), nil })
				if err != nil || string(v) != fmt.Sprint(i) {
					t.Errorf("%d: %q %v", i, v, err)
				}
			}
		})
	}
	wg.Wait()
	if made.Load() != 256 {
		t.Errorf("256 were made %d times", made.Load())
	}
	for _, bad := range []func() ([]byte, error){
		func() ([]byte, error) { return nil, errors.New("no") }, func() ([]byte, error) { panic("broken") },
	} {
		if _, err := c.Make(keyOf(1000), bad); err == nil {
			t.Error("no error")
		}
	}
	if v, err := c.Make(keyOf(1000), func() ([]byte, error) { return []byte("good"), nil }); string(v) != "good" || err != nil {
		t.Errorf("%q %v", v, err)
	}
}
