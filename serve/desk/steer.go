package desk

import (
	"slices"

	"groundsheet/tiles/fault"
)

// tell publishes a task as it is now.
func (t *tasks) tell(one *task) {
	one.told = t.d.now()
	t.d.publish("task", one.taskReport)
}

func (t *tasks) list() []taskReport {
	t.mu.Lock()
	defer t.mu.Unlock()
	all := []taskReport{}
	for _, one := range t.all {
		all = append(all, one.taskReport)
	}
	return all
}

// busy is the unended task of a kind for a job, "" when there is none.
func (t *tasks) busy(kind, jobID string) string {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, one := range t.all {
		if one.Ended == nil && one.Kind == kind && one.Job == jobID {
			return one.ID
		}
	}
	return ""
}

// steer pauses a task, lets it go on, or stops it.
func (t *tasks) steer(id, what string) (taskReport, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	i := slices.IndexFunc(t.all, func(one *task) bool { return one.ID == id })
	if i < 0 {
		return taskReport{}, &fault.Fault{Kind: notFound, Detail: "there is no task " + id + " any more", Remedy: "look again"}
	}
	one := t.all[i]
	now := t.d.now()
	switch {
	case what == "go" && one.State == paused:
		one.State = waiting
		t.tell(one)
		if one.inLine {
			t.next()
		} else {
			t.run(one)
		}
	case what == "pause" && one.State == waiting:
		one.State = paused
		t.tell(one)
	case what == "stop" && (one.State == waiting || one.State == paused):
		one.State, one.Ended = stopped, &now
		t.tell(one)
	case one.State == running && (what == "pause" || what == "stop"):
		one.Ending = true
		one.cancel(map[string]error{"pause": errPause, "stop": errStop}[what])
		t.tell(one)
	default: // it is so already, or has ended meanwhile
	}
	return one.taskReport, nil
}
