package fetch_test

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/fetch"
)

// most is the largest number of arrivals within any one second.
func most(at []time.Time) (n int) {
	for i := range at {
		k := i
		for k < len(at) && at[k].Sub(at[i]) < time.Second {
			k++
		}
		n = max(n, k-i)
	}
	return n
}

// departures is a client that notes when each request leaves it.
type departures struct {
	mu sync.Mutex
	at []time.Time
}

func (d *departures) RoundTrip(r *http.Request) (*http.Response, error) {
	d.mu.Lock()
	d.at = append(d.at, time.Now())
	d.mu.Unlock()
	return http.DefaultTransport.RoundTrip(r)
}

// Never more requests leave in any second than stated, however busy the
// machine is, and nearly as many as stated do. When they arrive is the
// machine's doing as well: there a tenth more within one second is let pass.
func TestRateIsKept(t *testing.T) {
	for _, c := range []struct {
		rate float64
		n    int
	}{{0.8, 4}, {3.5, 12}, {50, 200}, {150, 600}} {
		t.Run(fmt.Sprint(c.rate), func(t *testing.T) {
			t.Parallel()
			h := serve(t, sends(plain))
			src := h.fast()
			src.Terms.RequestsPerSecond, src.Terms.Connections = c.rate, 8
			left := &departures{}
			o := quick()
			o.Client = &http.Client{Transport: left}
			stop := heldUp()
			tally, err := run(src, shelf(t), row(uint32(c.n)), o)
			late := stop()
			if err != nil || tally.New != c.n {
				t.Fatalf("%+v, %v", tally, err)
			}
			allowed := int(math.Ceil(c.rate))
			if got := most(left.at); got > allowed {
				t.Errorf("%d requests left within one second, stated are %v", got, c.rate)
			}
			if got := most(h.at); got > allowed+max(allowed/10, 1) {
				t.Errorf("%d requests arrived within one second, stated are %v", got, c.rate)
			}
			whole := perSecond(left.at)
			took, due := left.at[c.n-1].Sub(left.at[0]), time.Duration(float64(c.n-1)/c.rate*float64(time.Second))
			// What the machine held up is not the pace's doing.
			if took < due-late || took > time.Duration(float64(due)/0.97)+2*late {
				t.Errorf("%.4f of the stated rate, the machine held up %v", whole/c.rate, late)
			}
			if first := perSecond(left.at[:min(10, c.n)]); first > 5*c.rate { // late ones may leave together
				t.Errorf("the first requests left at %.2f of the stated rate: an early burst", first/c.rate)
			}
			t.Logf("%d requests, %.4f of the stated rate, held up %v; in one second at most %d left and %d arrived", c.n, whole/c.rate, late, most(left.at), most(h.at))
		})
	}
}

// heldUp measures, until it is stopped, how long short sleeps last beyond
// their time when they last 5 ms too long: what a busy machine does to
// everybody.
func heldUp() (stop func() time.Duration) {
	done, out := make(chan struct{}), make(chan time.Duration)
	go func() {
		var sum time.Duration
		for {
			select {
			case <-done:
				out <- sum
				return
			default:
			}
			began := time.Now()
			time.Sleep(time.Millisecond)
			if late := time.Since(began) - time.Millisecond; late > 5*time.Millisecond {
				sum += late
			}
		}
	}()
	return func() time.Duration { close(done); return <-out }
}

// perSecond is how many follow the first one a second.
func perSecond(at []time.Time) float64 {
	return float64(len(at)-1) / at[len(at)-1].Sub(at[0]).Seconds()
}

func TestConnectionsAreNeverExceeded(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		time.Sleep(10 * time.Millisecond)
		w.Write(plain)
	})
	src := h.fast()
	src.Terms.Connections = 3
	if tally, err := run(src, shelf(t), row(60), quick()); err != nil || tally.New != 60 {
		t.Fatalf("%+v, %v", tally, err)
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.busiest != 3 || h.mostOpen != 3 {
		t.Errorf("%d requests at once, %d connections open, stated are 3", h.busiest, h.mostOpen)
	}
}

func TestRetryAfterHoldsEveryWorkerBack(t *testing.T) {
	for _, status := range []int{503, 429} {
		t.Run(fmt.Sprint(status), func(t *testing.T) {
			var n atomic.Int32
			var told atomic.Int64
			h := serve(t, func(w http.ResponseWriter, r *http.Request) {
				if n.Add(1) == 10 {
					told.Store(time.Now().UnixNano())
					w.Header().Set("Retry-After", "1")
					w.WriteHeader(status)
					return
				}
				time.Sleep(5 * time.Millisecond)
				w.Write(plain)
			})
			tally, err := run(h.fast(), shelf(t), row(40), quick())
			if err != nil || tally.New != 40 || tally.Retries != 1 || tally.Requests != 41 {
				t.Fatalf("%+v, %v", tally, err)
			}
			from, early, next := time.Unix(0, told.Load()), 0, time.Hour
			for _, at := range h.at {
				// Requests on their way when the answer was sent cannot be called back.
				if d := at.Sub(from); d > 100*time.Millisecond {
					next = min(next, d)
					if d < time.Second {
						early++
					}
				}
			}
			if early > 0 || next > 3*time.Second || tally.Waited < 950*time.Millisecond {
				t.Errorf("%d requests during the wait of 1 s, next after %v, waited %v", early, next, tally.Waited)
			}
		})
	}
}

func TestLongWaitEndsTheRun(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Retry-After", "86400")
		w.WriteHeader(503)
	})
	_, err := run(h.fast(), shelf(t), row(40), quick())
	stoppedFor(t, err, fetch.StopWait, "asks to wait 1 d, until", "run again after", "groundsheet source try county")
}

// Workers that wait for their place when the source asks for a day must not
// wait for it too, nor must those that wait to try again.
func TestLongWaitWakesWhoWaits(t *testing.T) {
	for _, standIn := range []bool{false, true} {
		var n atomic.Int32
		h := serve(t, func(w http.ResponseWriter, r *http.Request) {
			switch n.Add(1) {
			case 1, 2:
				w.WriteHeader(500)
			case 3:
				time.Sleep(300 * time.Millisecond) // the others wait for their place meanwhile
				w.Header().Set("Retry-After", "86400")
				w.WriteHeader(503)
			default:
				w.Write(plain)
			}
		})
		s, wants := filled(t, 40, 40)
		src := h.fast()
		src.Terms.RequestsPerSecond, src.Terms.Connections = 5, 6
		o := quick()
		o.Backoff, o.StandIn = time.Minute, standIn
		began := time.Now()
		tally, err := run(src, s, wants, o)
		if standIn {
			if err != nil || tally.StoodIn < 30 {
				t.Errorf("%+v, %v", tally, err)
			}
		} else {
			stoppedFor(t, err, fetch.StopWait)
		}
		if took := time.Since(began); took > 25*time.Second {
			t.Errorf("stand in %v: ended after %v", standIn, took)
		}
	}
}

func stoppedFor(t *testing.T, err error, why fetch.Reason, words ...string) {
	t.Helper()
	var o *fault.Fault
	var s *fetch.Stop
	if !errors.As(err, &o) || o.Kind != fetch.Failed || !errors.As(err, &s) || s.Why != why {
		t.Fatalf("%v (%T), want a Failed that stopped for %s", err, err, why)
	}
	if o.Detail == "" || o.Remedy == "" {
		t.Errorf("%+v: nothing done or to be done", o)
	}
	says(t, err, append(words, `source "county"`, o.Remedy)...)
}

func TestStops(t *testing.T) {
	cases := []struct {
		status int
		why    fetch.Reason
		words  string
	}{
		{401, fetch.StopRejected, "401 Unauthorized"},
		{403, fetch.StopRejected, "403 Forbidden"},
		{451, fetch.StopRejected, "451"},
		{511, fetch.StopPortal, "a captive portal answers instead of the source"},
	}
	for _, c := range cases {
		t.Run(fmt.Sprint(c.status), func(t *testing.T) {
			h := serve(t, func(w http.ResponseWriter, r *http.Request) {
				if strings.HasPrefix(r.URL.Path, "/20/20/") {
					w.WriteHeader(c.status)
					return
				}
				time.Sleep(time.Millisecond)
				w.Write(plain)
			})
			s := shelf(t)
			tally, err := run(h.fast(), s, row(2000), quick())
			stoppedFor(t, err, c.why, c.words, "127.0.0.1")
			if tally.Requests > 100 || tally.Retries > 0 {
				t.Errorf("went on: %+v", tally)
			}
			if n := len(held(t, s)); n != tally.New || n < 10 {
				t.Errorf("%d held, %d counted: what came before must be kept", n, tally.New)
			}
		})
	}
}

func TestNoStore(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", `private="x, y", No-Store`)
		w.Write(plain)
	})
	s := shelf(t)
	tally, err := run(h.fast(), s, row(50), quick())
	stoppedFor(t, err, fetch.StopNoStore, "no-store", "permission")
	if tally.New != 0 || len(held(t, s)) != 0 {
		t.Errorf("kept what must not be: %+v", tally)
	}
	src := h.fast()
	src.Terms.Offline, src.Terms.Permission = "permission", "letter of 2026-03-01"
	if tally, err := run(src, s, row(5), quick()); err != nil || tally.New != 5 {
		t.Errorf("with permission: %+v, %v", tally, err)
	}
}
