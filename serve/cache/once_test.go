package cache

import (
	"errors"
	"sync"
	"sync/atomic"
	"testing"
)

// TestOnce: what is made is made once; what fails is shared by those who wait, and
// tried again by the next; a panic is an error.
func TestOnce(t *testing.T) {
	var o Once[int]
	var tries atomic.Int32
	began, waiting := make(chan struct{}), make(chan struct{})
	fail := func() (int, error) {
		tries.Add(1)
		close(began)
		<-waiting
		return 0, errors.New("no")
	}
	var all sync.WaitGroup
	all.Go(func() {
		if _, err := o.Get(fail); err == nil {
			t.Error("no error")
		}
	})
	<-began
	for range 20 {
		all.Go(func() {
			v, err := o.Get(func() (int, error) { tries.Add(1); return 1, nil })
			if err == nil && v != 1 {
				t.Errorf("%d", v)
			}
		})
	}
	close(waiting)
	all.Wait()
	if n := tries.Load(); n > 2 {
		t.Errorf("%d tries", n)
	}
	var p Once[int]
	if _, err := p.Get(func() (int, error) { panic("broken") }); err == nil {
		t.Error("a panic is no error")
	}
	for range 2 {
		if v, err := p.Get(func() (int, error) { tries.Store(100); return 7, nil }); v != 7 || err != nil {
			t.Errorf("%d, %v", v, err)
		}
	}
}
