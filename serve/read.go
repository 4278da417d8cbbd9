package serve

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"golang.org/x/sync/singleflight"
)

// reader reads a document of a pack.
type reader func(context.Context) ([]byte, error)

// readTime is how long a document may take to read, with waiting for its turn: a
// view in a hostile file may never end.
const readTime = 10 * time.Second

// errTurn says that a document was not read, because others took too long.
var errTurn = errors.New("other documents of the pack take too long to read")

// read reads one document of a pack at a time, so that a hostile one never has
// more than one core, and the phones of other packs the rest.
func (p *site) read(text reader) ([]byte, error) {
	ctx, cancel := context.WithTimeout(context.Background(), readTime)
	defer cancel()
	select {
	case p.turn <- struct{}{}:
		defer func() { <-p.turn }()
	case <-ctx.Done():
		return nil, errTurn
	}
	return text(ctx)
}

// once is something that is made when it is first asked for. What could not be made
// is tried again, but not by those who waited for it meanwhile: one after the other
// they would wait for ever.
type once[T any] struct {
	made   atomic.Pointer[T]
	making singleflight.Group
}

func (o *once[T]) get(produce func() (T, error)) (v T, err error) {
	if made := o.made.Load(); made != nil {
		return *made, nil
	}
	_, err, _ = o.making.Do("", func() (_ any, err error) {
		defer func() {
			if broken := recover(); broken != nil { // by what a hostile file holds
				err = fmt.Errorf("it cannot be understood: %v", broken)
			}
		}()
		if o.made.Load() != nil {
			return nil, nil
		}
		v, err := produce()
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

// onceRead makes a document when it is first asked for.
func onceRead(media string, body func() ([]byte, error)) func() (asset, error) {
	var kept once[asset]
	return func() (asset, error) {
		return kept.get(func() (asset, error) {
			b, err := body()
			if err != nil {
				return asset{}, err
			}
			return newAsset(media, b), nil
		})
	}
}
