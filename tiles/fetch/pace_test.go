package fetch

import (
	"context"
	"errors"
	"testing"
	"time"

	"golang.org/x/time/rate"
)

// 429 halves the rate, once for all the requests that were on their way.
func TestSlowHalvesOnceATime(t *testing.T) {
	p := newPace(100, Options{})
	first := p.limiter.Limit()
	sent := time.Now()
	for range 5 {
		p.slow(sent)
	}
	if got := p.limiter.Limit(); got != first/2 {
		t.Errorf("5 answers to requests sent together: %v, want %v", got, first/2)
	}
	for range 20 {
		time.Sleep(time.Microsecond)
		p.slow(time.Now())
	}
	if got := p.limiter.Limit(); got < p.floor || got > 2*p.floor {
		t.Errorf("after many answers: %v, want the floor %v", got, p.floor)
	}
}

func TestPauseGrowsButNeverShrinks(t *testing.T) {
	p := newPace(1000, Options{})
	if d := p.pause(200 * time.Millisecond); d < 190*time.Millisecond {
		t.Errorf("first pause adds %v", d)
	}
	if d := p.pause(100 * time.Millisecond); d != 0 {
		t.Errorf("a shorter pause adds %v", d)
	}
	if d := p.pause(300 * time.Millisecond); d < 80*time.Millisecond || d > 101*time.Millisecond {
		t.Errorf("a longer pause adds %v, want about 100 ms", d)
	}
	start := time.Now()
	if _, err := p.turn(context.Background()); err != nil || time.Since(start) < 280*time.Millisecond {
		t.Errorf("turn after %v, %v", time.Since(start), err)
	}
}

func TestTurnEndsWithTheContext(t *testing.T) {
	p := newPace(0.01, Options{})
	p.turn(context.Background())
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Millisecond)
	defer cancel()
	if _, err := p.turn(ctx); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("waiting for the rate: %v", err)
	}
	p = newPace(1000, Options{})
	p.pause(time.Hour)
	if _, err := p.turn(ctx); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("waiting for the pause: %v", err)
	}
}

// A pause that begins while a turn waits for its place holds that turn too.
func TestPauseDuringTheLastWait(t *testing.T) {
	p := newPace(1, Options{})
	p.limiter.SetLimit(rate.Inf)
	p.window = 100 * time.Millisecond
	if _, err := p.turn(context.Background()); err != nil {
		t.Fatal(err)
	}
	start := time.Now()
	time.AfterFunc(30*time.Millisecond, func() { p.pause(300 * time.Millisecond) })
	if _, err := p.turn(context.Background()); err != nil || time.Since(start) < 320*time.Millisecond {
		t.Errorf("turn after %v, %v, want 330 ms", time.Since(start), err)
	}
}
