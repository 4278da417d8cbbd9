package pace

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"golang.org/x/time/rate"
)

// 429 halves the rate, once for all the requests that were on their way.
func TestSlowHalvesOnceATime(t *testing.T) {
	p := New(100, 30*time.Second)
	first := p.limiter.Limit()
	sent := time.Now()
	for range 5 {
		p.SlowDown(sent)
	}
	if got := p.limiter.Limit(); got != first/2 {
		t.Errorf("5 answers to requests sent together: %v, want %v", got, first/2)
	}
	for range 20 {
		time.Sleep(time.Microsecond)
		p.SlowDown(time.Now())
	}
	if got := p.limiter.Limit(); got < first*slowest || got > 2*first*slowest {
		t.Errorf("after many answers: %v, want no less than 1/64 of %v", got, first)
	}
}

func TestPauseGrowsButNeverShrinks(t *testing.T) {
	p := New(1000, 30*time.Second)
	if d := p.Pause(200 * time.Millisecond); d < 190*time.Millisecond {
		t.Errorf("first pause adds %v", d)
	}
	if d := p.Pause(100 * time.Millisecond); d != 0 {
		t.Errorf("a shorter pause adds %v", d)
	}
	if d := p.Pause(300 * time.Millisecond); d < 80*time.Millisecond || d > 101*time.Millisecond {
		t.Errorf("a longer pause adds %v, want about 100 ms", d)
	}
	start := time.Now()
	if _, err := p.Wait(context.Background()); err != nil || time.Since(start) < 280*time.Millisecond {
		t.Errorf("wait ended after %v, %v", time.Since(start), err)
	}
}

func TestWaitEndsWithTheContext(t *testing.T) {
	p := New(0.01, 30*time.Second)
	p.Wait(context.Background())
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Millisecond)
	defer cancel()
	if _, err := p.Wait(ctx); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("waiting for the rate: %v", err)
	}
	p = New(1000, 30*time.Second)
	p.Pause(time.Hour)
	if _, err := p.Wait(ctx); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("waiting for the pause: %v", err)
	}
}

// A pause that begins during the wait for a place holds that request too.
func TestPauseDuringTheLastWait(t *testing.T) {
	p := New(1, 30*time.Second)
	p.limiter.SetLimit(rate.Inf)
	p.window = 100 * time.Millisecond
	if _, err := p.Wait(context.Background()); err != nil {
		t.Fatal(err)
	}
	start := time.Now()
	time.AfterFunc(30*time.Millisecond, func() { p.Pause(300 * time.Millisecond) })
	if _, err := p.Wait(context.Background()); err != nil || time.Since(start) < 320*time.Millisecond {
		t.Errorf("wait ended after %v, %v, want 330 ms", time.Since(start), err)
	}
}

// After 429 the rate comes back by a tenth of the stated one at a time, and a
// new 429 begins the quiet time again.
func TestRateRecoversSlowly(t *testing.T) {
	p := New(100, time.Minute)
	start := p.quiet
	p.SlowDown(time.Now())
	p.SlowDown(time.Now())
	if p.share != 0.25 {
		t.Fatalf("share %v after two halvings", p.share)
	}
	quiet := p.quiet
	p.grow(quiet.Add(59 * time.Second))
	if p.share != 0.25 || !quiet.After(start) {
		t.Errorf("share %v before the quiet time is over", p.share)
	}
	for i, want := range []float64{0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95, 1, 1} {
		p.grow(quiet.Add(time.Duration(i+1) * time.Minute))
		if math.Abs(p.share-want) > 1e-9 || math.Abs(float64(p.limiter.Limit())-98*want) > 1e-6 {
			t.Errorf("step %d: share %v, limit %v, want %v", i+1, p.share, p.limiter.Limit(), want)
		}
	}
}

// The slower rate is handed over, and grows for the time without requests.
func TestShareIsHandedOver(t *testing.T) {
	for _, c := range []struct {
		idle  time.Duration
		share float64
		want  float64
	}{{0, 0.5, 0.5}, {29 * time.Second, 0.5, 0.5}, {61 * time.Second, 0.5, 0.7}, {time.Hour, 0.5, 1}, {time.Hour, 0, 1}, {0, 7, 1}} {
		first := New(10, 30*time.Second)
		first.share = c.share
		first.left[0] = time.Now().Add(-c.idle)
		next := New(10, 30*time.Second)
		next.Load(first.State(), true)
		if math.Abs(next.share-c.want) > 1e-9 || math.Abs(float64(next.limiter.Limit())-9.8*c.want) > 1e-6 {
			t.Errorf("idle %v at %v: share %v, limit %v, want %v", c.idle, c.share, next.share, next.limiter.Limit(), c.want)
		}
	}
}

// Times of the run before that lie in the future, by a clock that was set
// back, delay no request for longer than a full ring.
func TestHandedOverTimesInTheFuture(t *testing.T) {
	p := New(5, 30*time.Second)
	p.Load(Handover{Left: []time.Time{time.Now().Add(time.Hour), time.Now().Add(2 * time.Hour)}}, true)
	for range 6 {
		if d, _ := p.claim(); d > 1100*time.Millisecond {
			t.Errorf("waits %v", d)
		}
	}
}
