package fetch

import "sync"

// queue hands out the jobs of a run: each once, and those that came back again.
type queue struct {
	mu    sync.Mutex
	next  func() (job, error, bool) // of those never handed out
	dry   bool                      // next has no more
	back  []job                     // left undone by a lease; never more than connections
	aside []job                     // failed while the source fails, to be tried again later
}

// draw gives the next job; more is false if there is none for now.
func (q *queue) draw() (j job, more bool, err error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if n := len(q.back); n > 0 {
		j = q.back[n-1]
		q.back = q.back[:n-1]
		return j, true, nil
	}
	if q.dry {
		return job{}, false, nil
	}
	j, err, more = q.next()
	q.dry = err != nil || !more
	return j, !q.dry, err
}

func (q *queue) putBack(jobs ...job) {
	q.mu.Lock()
	q.back = append(q.back, jobs...)
	q.mu.Unlock()
}

func (q *queue) setAside(j job) {
	q.mu.Lock()
	q.aside = append(q.aside, j)
	q.mu.Unlock()
}

// returnAside queues the jobs set aside.
func (q *queue) returnAside() {
	q.mu.Lock()
	q.back, q.aside = append(q.back, q.aside...), nil
	q.mu.Unlock()
}

// left reports whether there are jobs to hand out, and jobs set aside.
func (q *queue) left() (ready, aside bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	return !q.dry || len(q.back) > 0, len(q.aside) > 0
}
