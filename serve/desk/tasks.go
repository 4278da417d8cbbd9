package desk

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"sync"
	"time"
)

// Progress is how far a task has come.
type Progress struct {
	Stage  string     `json:"stage"` // a word for the page, such as "fetching"
	Done   int64      `json:"done"`
	Total  int64      `json:"total"`           // 0 = not known
	Text   string     `json:"text,omitempty"`  // a sentence for people
	Until  *time.Time `json:"until,omitempty"` // it waits till then
	Result any        `json:"result,omitempty"`
}

// work is what a task does. To pause it, ctx is ended with the cause [errPause] and work
// returns; to go on it is run again, and takes up what it left, as all verbs of the
// office do.
type work func(ctx context.Context, report func(Progress)) error

// maker makes the work of a kind of task for the job in a folder.
type maker func(jobID, dir string) work

var (
	errPause = errors.New("paused")
	errStop  = errors.New("stopped")
	errEnd   = errors.New("the desk was closed")
)

// The states of a task.
const (
	waiting = "waiting" // for those before it in the line
	running = "running"
	paused  = "paused"
	done    = "done"
	failed  = "failed"
	stopped = "stopped"
)

// taskReport is a task as pages see it.
type taskReport struct {
	ID       string     `json:"id"`
	Kind     string     `json:"kind"`
	Job      string     `json:"job"` // "" = of no one job
	State    string     `json:"state"`
	Ending   bool       `json:"ending"` // it was told to pause or stop, and will
	Progress Progress   `json:"progress"`
	LeftS    float64    `json:"left_s"` // at the rate of this stage so far; 0 = not known
	Asked    time.Time  `json:"asked"`
	Began    *time.Time `json:"began"`
	Ended    *time.Time `json:"ended"`
	Problem  *problem   `json:"problem"`
}

// task is one piece of long work. The runner's lock guards it.
type task struct {
	taskReport
	do     work
	inLine bool // one after the other, with the others of the line
	cancel context.CancelCauseFunc
	stage  time.Time // when the stage began
	told   time.Time
}

// mostEnded is how many ended tasks are remembered.
const mostEnded = 200

// tasks runs long work. It goes on when no page is open.
type tasks struct {
	d     *desk
	mu    sync.Mutex
	all   []*task // in the order they were asked for
	last  int
	kinds map[string]maker
	root  context.Context // of tasks, which are ended each with a cause
	ctx   context.Context // of what runs aside
	stop  context.CancelFunc
	group sync.WaitGroup
	shut  bool
}

func newTasks(d *desk) *tasks {
	return &tasks{d: d, kinds: map[string]maker{}, root: context.Background()}
}

// kind adds a kind of task that pages may start by name: POST /api/tasks.
func (t *tasks) kind(name string, m maker) { t.kinds[name] = m }

func (t *tasks) kindNames() []string { return slices.Sorted(maps.Keys(t.kinds)) }

func (t *tasks) begin(ctx context.Context) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.root = context.WithoutCancel(ctx)
	t.ctx, t.stop = context.WithCancel(ctx)
}

// end stops all work and waits for it.
func (t *tasks) end() {
	t.mu.Lock()
	t.shut = true
	t.stop()
	for _, one := range t.all {
		if one.cancel != nil {
			one.cancel(errEnd)
		}
	}
	t.mu.Unlock()
	t.group.Wait()
}

// start begins work at once, beside what else is running.
func (t *tasks) start(kind, jobID string, do work) string { return t.add(kind, jobID, do, false) }

// queue begins work when what was queued before it has ended or is paused.
func (t *tasks) queue(kind, jobID string, do work) string { return t.add(kind, jobID, do, true) }

func (t *tasks) add(kind, jobID string, do work, inLine bool) string {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.last++
	one := &task{do: do, inLine: inLine, taskReport: taskReport{ID: strconv.Itoa(t.last), Kind: kind, Job: jobID, State: waiting, Asked: t.d.now()}}
	t.all = append(t.all, one)
	t.forget()
	t.tell(one)
	if inLine {
		t.next()
	} else {
		t.run(one)
	}
	return one.ID
}

// aside runs what is no task: it ends when the desk does, and nobody waits for it.
func (t *tasks) aside(do func(ctx context.Context)) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.shut {
		return
	}
	t.group.Go(func() { do(t.ctx) })
}

// forget drops the oldest ended tasks.
func (t *tasks) forget() {
	ended := 0
	for i := len(t.all) - 1; i >= 0; i-- {
		if t.all[i].Ended == nil {
			continue
		}
		if ended++; ended > mostEnded {
			t.all = slices.Delete(t.all, i, i+1)
		}
	}
}

// next runs the first that waits in the line, unless one of the line is running.
func (t *tasks) next() {
	for _, one := range t.all {
		if one.inLine && one.State == running {
			return
		}
	}
	for _, one := range t.all {
		if one.inLine && one.State == waiting {
			t.run(one)
			return
		}
	}
}

func (t *tasks) run(one *task) {
	if t.shut {
		return
	}
	ctx, cancel := context.WithCancelCause(t.root)
	now := t.d.now()
	one.cancel, one.State, one.Problem, one.stage = cancel, running, nil, now
	if one.Began == nil {
		one.Began = &now
	}
	t.tell(one)
	t.group.Go(func() {
		err := safely(func() error { return one.do(ctx, func(p Progress) { t.moved(one, p) }) })
		t.ended(one, context.Cause(ctx), err)
		cancel(nil)
	})
}

// safely turns a panic of one task into its error: the others go on.
func safely(do func() error) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("this must not happen, and is a mistake of the program: %v", r)
		}
	}()
	return do()
}

func (t *tasks) moved(one *task, p Progress) {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.d.now()
	fresh := p.Stage != one.Progress.Stage
	if fresh {
		one.stage = now
	}
	if p.Result == nil {
		p.Result = one.Progress.Result
	}
	one.Progress, one.LeftS = p, 0
	if p.Done > 0 && p.Done < p.Total {
		one.LeftS = now.Sub(one.stage).Seconds() * float64(p.Total-p.Done) / float64(p.Done)
	}
	if fresh || p.Until != nil || p.Done == p.Total || now.Sub(one.told).Abs() >= 250*time.Millisecond {
		t.tell(one)
	}
}

// ended notes what a run came to: work that was told to end and has done so counts as
// that, whatever error it gave.
func (t *tasks) ended(one *task, cause, err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.d.now()
	one.cancel, one.Ending, one.LeftS = nil, false, 0
	one.Progress.Until = nil
	switch {
	case err == nil:
		one.State, one.Ended = done, &now
	case errors.Is(cause, errPause):
		one.State = paused
	case errors.Is(cause, errStop), errors.Is(cause, errEnd):
		one.State, one.Ended = stopped, &now
	default:
		one.State, one.Ended, one.Problem = failed, &now, problemOf(err)
	}
	t.tell(one)
	if one.inLine {
		t.next()
	}
}
