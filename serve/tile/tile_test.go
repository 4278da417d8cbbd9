package tile

import (
	"context"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"groundsheet/pack"
	"groundsheet/serve/document"
	"groundsheet/tiles"
)

func ExampleParseAddress() {
	fmt.Println(ParseAddress("/packs/elm-street/tiles/17/27308/49620.png"))
	fmt.Println(ParseAddress("/packs/elm-street/tiles/1/2/0"))
	// Output:
	// elm-street 17/27308/49620 true
	// elm-street 1/2/0 false
}

// TestRenderedOnce: fifty phones that ask for one tile have it rendered once.
func TestRenderedOnce(t *testing.T) {
	s := New(Options{Rendering: make(chan struct{}, 2)}).Open(document.Address{}, &pack.Pack{})
	var rendered atomic.Int32
	began := make(chan struct{})
	slowly := func(context.Context) (*response, error) {
		rendered.Add(1)
		<-began
		return &response{data: []byte("tile")}, nil
	}
	var wg sync.WaitGroup
	for range 50 {
		wg.Go(func() {
			if a, err := s.renderOnce(tiles.ID{Z: 18, X: 1, Y: 1}, slowly); err != nil || len(a.data) == 0 {
				t.Error(err)
			}
		})
	}
	time.AfterFunc(50*time.Millisecond, func() { close(began) })
	wg.Wait()
	if rendered.Load() != 1 {
		t.Errorf("rendered %d times", rendered.Load())
	}
}

// TestPause: a pack that is too slow is left alone for twice as long each time, up
// to a minute; one good read ends it.
func TestPause(t *testing.T) {
	var c condition
	now := time.Unix(1e9, 0)
	for _, want := range []time.Duration{1, 2, 4, 8, 16, 32, 60, 60} {
		c.tooSlow(now)
		c.tooSlow(now.Add(want*time.Second - 1)) // others that waited find the same
		if until := time.Unix(0, c.until.Load()); until != now.Add(want*time.Second) || c.Trouble() == "" {
			t.Errorf("it pauses for %v, want %v", until.Sub(now), want*time.Second)
		}
		now = now.Add(want * time.Second)
	}
	c.readable()
	if c.until.Load() != 0 || c.Trouble() != "" {
		t.Errorf("still slow: %s", c.Trouble())
	}
	c.damaged.Store(true)
	c.tooSlow(now)
	c.readable()
	if c.Trouble() == "" {
		t.Error("damage is forgotten")
	}
}
