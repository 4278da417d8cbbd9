package fetch_test

import (
	"context"
	"net/http"
	"sync"
	"testing"
	"time"

	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
)

// clockAt is a clock that stands still until it is moved.
type clockAt struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clockAt) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clockAt) set(t time.Time) {
	c.mu.Lock()
	c.now = t
	c.mu.Unlock()
}

func mustHours(t *testing.T, spans []string, zone string) source.Hours {
	t.Helper()
	h, err := source.ParseHours(spans, zone)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// The daily budget holds over several runs, counts every request, and comes
// back with the next day of the terms' own time zone.
func TestDailyBudget(t *testing.T) {
	h := serve(t, sends(plain))
	src := h.fast()
	src.Terms.TilesPerDay, src.Terms.Hours = 50, mustHours(t, nil, "America/Denver")
	clock := &clockAt{now: time.Date(2026, 11, 25, 18, 0, 0, 0, time.UTC)} // 11:00 in Denver
	s := shelf(t)
	o := quick()
	o.Now = clock.Now
	if tally, err := run(src, s, row(30), o); err != nil || tally.New != 30 {
		t.Fatalf("%+v, %v", tally, err)
	}
	spent, err := s.Spent(context.Background(), "2026-11-25")
	if err != nil || spent != 30 {
		t.Errorf("%d spent, %v: what was taken and not used goes back", spent, err)
	}
	tally, err := run(src, s, row(80)[30:], o)
	stoppedFor(t, err, fetch.StopBudget, "50 tiles a day", "2026-11-26 07:00 UTC", "run again")
	if tally.New != 20 || h.requests() != 50 || len(held(t, s)) != 50 {
		t.Errorf("%+v, %d requests", tally, h.requests())
	}
	clock.set(time.Date(2026, 11, 26, 7, 0, 1, 0, time.UTC))
	if tally, err = run(src, s, missing(t, s, row(80)), o); err != nil || tally.New != 30 {
		t.Errorf("the next day: %+v, %v", tally, err)
	}
}

// A patient run waits for the next day itself, without the turn, and says so.
func TestPatientRunWaitsForTheNextDay(t *testing.T) {
	h := serve(t, sends(plain))
	src := h.fast()
	src.Terms.TilesPerDay, src.Terms.Hours = 20, mustHours(t, nil, "Etc/UTC")
	clock := &clockAt{now: time.Date(2026, 11, 25, 23, 0, 0, 0, time.UTC)}
	s := shelf(t)
	var pauses []time.Time
	o := quick()
	o.Now, o.Patient = clock.Now, true
	o.Pausing = func(until time.Time, why string) {
		pauses = append(pauses, until)
		if n := len(held(t, s)); n != 20*len(pauses) {
			t.Errorf("%d written before the pause", n)
		}
		turn, err := s.Lease(context.Background(), func() { t.Error("the turn is held during the pause") })
		if err != nil {
			t.Fatal(err)
		}
		p, _ := turn.RateState()
		turn.Release(context.Background(), p)
		clock.set(until)
	}
	tally, err := run(src, s, row(50), o)
	if err != nil || tally.New != 50 || tally.Wanted != 50 || len(pauses) != 2 {
		t.Fatalf("%+v, %v, pauses until %v", tally, err, pauses)
	}
	if want := time.Date(2026, 11, 26, 0, 0, 0, 0, time.UTC); !pauses[0].Equal(want) {
		t.Errorf("until %v, want %v", pauses[0], want)
	}
}

// Outside the hours of the terms nothing is asked; a run that meets their end
// stops, a patient one waits.
func TestHoursOfTheDay(t *testing.T) {
	clock := &clockAt{now: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)}
	n := 0
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		if n++; n == 10 {
			clock.set(time.Date(2026, 11, 26, 6, 0, 0, 0, time.UTC)) // the hours end
		}
		w.Write(plain)
	})
	src := h.fast()
	src.Terms.Connections, src.Terms.Hours = 1, mustHours(t, []string{"20:00-06:00"}, "Etc/UTC")
	s := shelf(t)
	o := quick()
	o.Now = clock.Now
	_, err := run(src, s, row(5), o)
	stoppedFor(t, err, fetch.StopHours, "do not allow this hour", "2026-11-25 20:00 UTC")
	if n != 0 {
		t.Errorf("%d requests outside the hours", n)
	}
	clock.set(time.Date(2026, 11, 25, 23, 0, 0, 0, time.UTC))
	tally, err := run(src, s, row(30), o)
	stoppedFor(t, err, fetch.StopHours, "2026-11-26 20:00 UTC")
	if tally.New != 10 || n != 10 {
		t.Errorf("%+v, %d requests", tally, n)
	}
	o.Patient = true
	paused := 0
	o.Pausing = func(until time.Time, _ string) { paused++; clock.set(until) }
	if tally, err = run(src, s, missing(t, s, row(30)), o); err != nil || tally.New != 20 || paused != 1 {
		t.Errorf("patient: %+v, %v, %d pauses", tally, err, paused)
	}
}

// A wait longer than a run makes: a patient run waits, and the source's word
// holds for the runs after it too.
func TestPatientRunWaitsAsLongAsTold(t *testing.T) {
	n := 0
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		if n++; n == 5 {
			w.Header().Set("Retry-After", "7200")
			w.WriteHeader(503)
			return
		}
		w.Write(plain)
	})
	src := h.fast()
	src.Terms.Connections = 1
	s := shelf(t)
	ctx, cancel := context.WithCancel(context.Background())
	var until time.Time
	o := quick()
	o.Patient = true
	o.Pausing = func(at time.Time, why string) { until = at; cancel() }
	_, err := fetch.Run(ctx, src, s, func(yield func(fetch.Want, error) bool) {
		for _, w := range row(10) {
			if !yield(w, nil) {
				return
			}
		}
	}, o)
	if d := time.Until(until); err == nil || d < 119*time.Minute || d > 121*time.Minute || n != 5 || len(held(t, s)) != 4 {
		t.Errorf("%v, until %v from now, %d requests", err, d, n)
	}
	_, err = run(src, s, row(10)[4:], quick())
	stoppedFor(t, err, fetch.StopWait, "asked a run before")
	if n != 5 {
		t.Errorf("%d requests before the time", n)
	}
}
