package desk

import (
	"net/http"

	"groundsheet/tiles/fault"
)

// taskRoutes lets pages start and steer tasks.
type taskRoutes struct{ d *desk }

func (s *taskRoutes) routes(d *desk) {
	d.get("/api/tasks", func(*http.Request) (any, error) { return d.tasks.list(), nil })
	d.post("/api/tasks", s.start)
	for _, what := range []string{"pause", "go", "stop"} {
		d.post("/api/tasks/{task}/"+what, func(r *http.Request) (any, error) { return d.tasks.steer(r.PathValue("task"), what) })
	}
}

// start queues a task of a kind for each job, one after the other. A job that has one
// already keeps it.
func (s *taskRoutes) start(r *http.Request) (any, error) {
	var in struct {
		Kind string   `json:"kind"`
		Jobs []string `json:"jobs"`
	}
	if err := readJSON(r, &in); err != nil {
		return nil, err
	}
	make, known := s.d.tasks.kinds[in.Kind]
	if !known {
		return nil, &fault.Fault{Kind: notFound, Detail: "there is no task of the kind " + in.Kind, Remedy: "load the page again"}
	}
	dirs := map[string]string{}
	for _, id := range in.Jobs { // all or none
		dir, err := s.d.job(id)
		if err != nil {
			return nil, err
		}
		dirs[id] = dir
	}
	ids := []string{}
	for _, id := range in.Jobs {
		if has := s.d.tasks.busy(in.Kind, id); has != "" {
			ids = append(ids, has)
			continue
		}
		ids = append(ids, s.d.tasks.queue(in.Kind, id, make(id, dirs[id])))
	}
	return map[string]any{"tasks": ids}, nil
}
