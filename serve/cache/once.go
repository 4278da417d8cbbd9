package cache

import (
	"sync/atomic"

	"golang.org/x/sync/singleflight"
)

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
