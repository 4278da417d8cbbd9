package desk

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// until waits for something that has to come soon.
func until(t *testing.T, what string, f func() bool) {
	t.Helper()
	for end := time.Now().Add(5 * time.Minute); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if f() {
			return
		}
	}
	t.Fatalf("not within five minutes: %s", what)
}

func (o *opened) state(id string) string {
	for _, r := range o.d.tasks.list() {
		if r.ID == id {
			return r.State
		}
	}
	return "gone"
}

// waits is work that goes on until it is told to end.
func waits(ctx context.Context, report func(Progress)) error {
	report(Progress{Stage: "fetching", Done: 1, Total: 10})
	<-ctx.Done()
	return ctx.Err()
}

func TestTasksOfTheLineComeOneAfterTheOther(t *testing.T) {
	o := open(t)
	var at, most, ran atomic.Int32
	work := func(context.Context, func(Progress)) error {
		most.Store(max(most.Load(), at.Add(1)))
		time.Sleep(20 * time.Millisecond)
		at.Add(-1)
		ran.Add(1)
		return nil
	}
	for range 5 {
		o.d.tasks.queue("ready", "", work)
	}
	until(t, "all five", func() bool { return ran.Load() == 5 })
	if most.Load() != 1 {
		t.Errorf("%d ran at once", most.Load())
	}
}

func TestPauseGoOnStop(t *testing.T) {
	o := open(t)
	var runs atomic.Int32
	first := o.d.tasks.queue("ready", "a", func(ctx context.Context, report func(Progress)) error {
		runs.Add(1)
		return waits(ctx, report)
	})
	second := o.d.tasks.queue("ready", "b", waits)
	third := o.d.tasks.queue("ready", "c", waits)
	until(t, "the first runs", func() bool { return o.state(first) == running && runs.Load() == 1 })
	steer := func(id, what string) {
		t.Helper()
		if status, body := o.ask("/api/tasks/"+id+"/"+what, map[string]any{}); status != http.StatusOK {
			t.Fatalf("%s %s: %d %s", what, id, status, body)
		}
	}
	steer(first, "pause")
	until(t, "the first is paused and lets the second go", func() bool { return o.state(first) == paused && o.state(second) == running })
	steer(third, "pause") // it waits
	steer(first, "go")
	if s := o.state(first); s != waiting {
		t.Errorf("the first goes on beside the second: %s", s)
	}
	steer(second, "stop")
	until(t, "the second is stopped and the first goes on", func() bool { return o.state(second) == stopped && o.state(first) == running && runs.Load() == 2 })
	if o.state(third) != paused {
		t.Errorf("the third is %s", o.state(third))
	}
	steer(third, "stop")
	steer(first, "stop")
	steer(first, "stop") // what has ended stays so
	until(t, "all have ended", func() bool { return o.state(first) == stopped && o.state(third) == stopped })
	if status, _ := o.ask("/api/tasks/99/stop", map[string]any{}); status != http.StatusNotFound {
		t.Errorf("an unknown task: %d", status)
	}
}

func TestTaskEnds(t *testing.T) {
	o := open(t)
	for name, c := range map[string]struct {
		do   work
		want string
	}{
		"done":              {func(context.Context, func(Progress)) error { return nil }, done},
		"failed":            {func(context.Context, func(Progress)) error { return errors.New("no disk") }, failed},
		"a mistake of ours": {func(context.Context, func(Progress)) error { panic("x") }, failed},
	} {
		id := o.d.tasks.start("test", "", c.do)
		until(t, name, func() bool { return o.state(id) == c.want })
		for _, r := range o.d.tasks.list() {
			if r.ID == id && (r.Problem != nil) != (c.want == failed) {
				t.Errorf("%s: problem %+v", name, r.Problem)
			}
		}
	}
}

// A job that has a task of a kind already keeps it.
func TestOneTaskAJob(t *testing.T) {
	o := open(t)
	_, id := o.job("site", someJob)
	o.d.tasks.kind("test", func(string, string) work { return waits })
	start := func() (ids []string) {
		t.Helper()
		status, body := o.ask("/api/tasks", map[string]any{"kind": "test", "jobs": []string{id}})
		var out struct{ Tasks []string }
		if err := json.Unmarshal(body, &out); status != http.StatusOK || err != nil {
			t.Fatal(status, string(body))
		}
		return out.Tasks
	}
	if first, second := start(), start(); !slices.Equal(first, second) {
		t.Errorf("two tasks: %v %v", first, second)
	}
	for _, in := range []any{map[string]any{"kind": "nothing", "jobs": []string{id}}, map[string]any{"kind": "test", "jobs": []string{id, "gone"}}} {
		if status, _ := o.ask("/api/tasks", in); status != http.StatusNotFound {
			t.Errorf("%v: %d", in, status)
		}
	}
	if n := len(o.d.tasks.list()); n != 1 {
		t.Errorf("%d tasks", n)
	}
}

// The desk ends within moments although work is under way, and the work is told so.
func TestDeskEndsItsWork(t *testing.T) {
	o := open(t)
	ended := make(chan error, 1)
	o.d.tasks.start("test", "", func(ctx context.Context, _ func(Progress)) error {
		<-ctx.Done()
		ended <- context.Cause(ctx)
		return ctx.Err()
	})
	until(t, "it runs", func() bool { return o.d.tasks.list()[0].State == running })
	began := time.Now()
	o.stop()
	if took := time.Since(began); took > 4*time.Second {
		t.Errorf("it took %v", took)
	}
	if err := <-ended; !errors.Is(err, errEnd) {
		t.Errorf("the work was told %v", err)
	}
}

// A page hears of tasks and of jobs that are changed by hand.
func TestEvents(t *testing.T) {
	o := open(t)
	o.job("site", someJob)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, o.origin+"/api/events", http.NoBody)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set(secretHeader, o.secret)
	resp, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	lines := make(chan string, 100)
	go func() {
		for s := bufio.NewScanner(resp.Body); s.Scan(); {
			lines <- s.Text()
		}
		close(lines)
	}()
	hear := func(topic, holds string) {
		t.Helper()
		late := time.After(3 * lookEvery)
		for {
			select {
			case line, more := <-lines:
				if !more {
					t.Fatal("the stream has ended")
				}
				if strings.Contains(line, `"topic":"`+topic+`"`) && strings.Contains(line, holds) {
					return
				}
			case <-late:
				t.Fatalf("nothing of %s with %s", topic, holds)
			}
		}
	}
	o.d.tasks.start("test", "", func(context.Context, func(Progress)) error { return nil })
	hear("task", `"state":"running"`)
	hear("task", `"state":"done"`)
	time.Sleep(lookEvery + 200*time.Millisecond) // it has looked once
	o.job("site", strings.Replace(someJob, "Valve 12", "Valve 13", 1))
	hear("job", `"name":"Valve 13"`)
	o.job("another", someJob)
	hear("jobs", "null")
	o.stop()
	for range lines { // ends
	}
}
