package fetch

import (
	"context"
	"fmt"
	"math"
	"sync"
	"time"

	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// gate lets requests through within the hours and the daily budget. The budget
// is taken in small portions, a second or two of requests: several runs share
// it, and a killed run loses no more than a portion.
type gate struct {
	terms   *source.Terms
	now     func() time.Time
	turn    store.Lease
	portion int
	free    bool // this computer itself is asked: nothing is counted

	mu   sync.Mutex
	day  string
	left int // taken from the day and not used
}

func newGate(r *run, turn store.Lease) *gate {
	t := r.src.Terms
	return &gate{
		terms: t, now: r.o.Now, turn: turn,
		portion: int(min(max(math.Ceil(2*t.RequestsPerSecond), 1), 1000)),
		free:    r.o.Unpaced && t.TilesPerDay == 0,
	}
}

// pass takes room for so many tiles from the day. A *halt says when there is
// some again, or when the hours allow it.
func (g *gate) pass(ctx context.Context, cost int) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	if err := g.open(); err != nil || g.free {
		return err
	}
	now := g.now()
	if limit := g.terms.TilesPerDay; limit > 0 {
		cost = min(cost, limit) // else a block larger than a day's tiles could never be had
	}
	if day := g.terms.Day(now); day != g.day {
		if err := g.unspend(ctx); err != nil {
			return err
		}
		g.day = day
	}
	if g.left < cost {
		got, err := g.turn.Spend(ctx, g.day, max(g.portion, cost-g.left), g.terms.TilesPerDay)
		if err != nil {
			return err
		}
		g.left += got
	}
	if g.left < cost {
		until := g.tomorrow(now)
		return &halt{why: StopBudget, until: until, detail: fmt.Sprintf("the %d tiles a day of its terms are used up; it goes on at %s", g.terms.TilesPerDay, measure.Moment(until)),
			remedy: "run again after that time: what came is kept"}
	}
	g.left -= cost
	return nil
}

// open is a *halt outside the hours of the terms.
func (g *gate) open() error {
	now := g.now()
	if g.terms.OpenAt(now) {
		return nil
	}
	until := g.terms.NextOpening(now)
	return &halt{why: StopHours, until: until, detail: fmt.Sprintf("its terms do not allow this hour; it goes on at %s", measure.Moment(until)),
		remedy: "run again after that time: what came is kept"}
}

// giveBack returns what was taken and not used.
func (g *gate) giveBack(ctx context.Context) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.unspend(ctx)
}

func (g *gate) unspend(ctx context.Context) error {
	n := g.left
	g.left = 0
	if n == 0 {
		return nil
	}
	return g.turn.Unspend(ctx, g.day, n)
}

// tomorrow is when the next day of the terms begins, or opens.
func (g *gate) tomorrow(now time.Time) time.Time {
	today := g.terms.Day(now)
	early, late := now, now
	for g.terms.Day(late) == today {
		early, late = late, late.Add(time.Hour)
	}
	for late.Sub(early) > time.Second {
		middle := early.Add(late.Sub(early) / 2)
		if g.terms.Day(middle) == today {
			early = middle
		} else {
			late = middle
		}
	}
	late = late.Truncate(time.Second)
	if g.terms.Day(late) == today {
		late = late.Add(time.Second)
	}
	if !g.terms.OpenAt(late) {
		late = g.terms.NextOpening(late)
	}
	return late
}
