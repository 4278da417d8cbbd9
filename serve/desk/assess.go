package desk

import (
	"context"
	"net/http"
	"sync"
	"time"
)

// assessor finds out the facts of jobs that a page shows, one after the other and the
// last asked first, and keeps them as long as the job's files are the same.
type assessor struct {
	d *desk

	mu    sync.Mutex
	known map[string]assessed
	want  []string // ids of jobs; the last is next
	busy  bool
}

type assessed struct {
	stamp string
	facts facts
}

// factsHold is how long facts are good although no file has changed: the store fills
// and tiles become stale.
const factsHold = 10 * time.Minute

// mostWanted bounds the jobs that wait to be looked at: those that a page no longer shows
// are asked for again when it does.
const mostWanted = 2500

func (a *assessor) routes(d *desk) {
	d.post("/api/jobs/facts", func(r *http.Request) (any, error) {
		var in struct {
			Jobs []string `json:"jobs"`
		}
		if err := readJSON(r, &in); err != nil {
			return nil, err
		}
		return map[string]any{"facts": a.ask(in.Jobs)}, nil
	})
}

// ask gives the facts that are known, by the ids of jobs. The others follow as events.
func (a *assessor) ask(ids []string) map[string]facts {
	now := map[string]facts{}
	var unknown []string
	for _, id := range ids {
		dir, known := a.d.folders.find(id)
		if !known {
			continue
		}
		if f, good := a.good(id, a.stamp(a.d.files.look(dir))); good {
			now[id] = f
		} else {
			unknown = append(unknown, id)
		}
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	for i := len(unknown) - 1; i >= 0; i-- { // the first of a page comes first
		a.want = append(a.want, unknown[i])
	}
	if over := len(a.want) - mostWanted; over > 0 {
		a.want = a.want[over:]
	}
	if !a.busy && len(a.want) > 0 {
		a.busy = true
		a.d.tasks.aside(a.work)
	}
	return now
}

// stamp changes when the facts may have.
func (a *assessor) stamp(s seen) string { return s.Etag + s.packs + a.d.folders.sourcesStamp() }

func (a *assessor) good(id, stamp string) (facts, bool) {
	a.mu.Lock()
	defer a.mu.Unlock()
	k, has := a.known[id]
	return k.facts, has && k.stamp == stamp && a.d.now().Sub(k.facts.Checked).Abs() < factsHold
}

// forget makes the facts of a job be found out anew.
func (a *assessor) forget(id string) {
	a.mu.Lock()
	defer a.mu.Unlock()
	delete(a.known, id)
}

// work finds out what is wanted until nothing is.
func (a *assessor) work(ctx context.Context) {
	for {
		id := a.next()
		if id == "" || ctx.Err() != nil {
			return
		}
		dir, known := a.d.folders.find(id)
		if !known {
			continue
		}
		s := a.d.files.look(dir)
		stamp := a.stamp(s)
		f, good := a.good(id, stamp)
		if !good {
			var err error
			if f, err = a.d.factsOf(ctx, s); err != nil {
				continue
			}
			if a.stamp(a.d.files.look(dir)) != stamp { // what was found is of neither state
				a.again(id)
				continue
			}
			a.mu.Lock()
			a.known[id] = assessed{stamp, f}
			a.mu.Unlock()
		}
		a.d.publish("facts", map[string]any{"id": id, "facts": f})
	}
}

// again puts a job that changed while it was looked at behind the others.
func (a *assessor) again(id string) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.want = append([]string{id}, a.want...)
}

func (a *assessor) next() string {
	a.mu.Lock()
	defer a.mu.Unlock()
	n := len(a.want)
	if n == 0 {
		a.busy = false
		return ""
	}
	id := a.want[n-1]
	a.want = a.want[:n-1]
	return id
}
