package desk

import (
	"net/http"
	"os"
	"time"
)

// state tells what a page needs to know of the desk itself.
type state struct{ d *desk }

func (s *state) routes(d *desk) {
	d.get("/api/state", s.get)
	d.raw("/api/events", d.events.stream)
}

type stateDocument struct {
	Began    time.Time    `json:"began"`
	Now      time.Time    `json:"now"`
	Computer string       `json:"computer"`
	Places   []place      `json:"places"`
	Tasks    []taskReport `json:"tasks"`
	Kinds    []string     `json:"kinds"` // of tasks
}

func (s *state) get(*http.Request) (any, error) {
	host, err := os.Hostname()
	if err != nil {
		host = ""
	}
	return stateDocument{Began: s.d.began, Now: s.d.now(), Computer: host, Places: s.d.folders.list(),
		Tasks: s.d.tasks.list(), Kinds: s.d.tasks.kindNames()}, nil
}
