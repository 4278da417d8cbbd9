package desk

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"groundsheet/pack/job"
	"groundsheet/tiles/durable"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
)

// nightly refreshes all open jobs once a day, at an hour that stands in a file of the
// user's: a line such as 02:30. It works while the desk runs, and asks sources only within
// the hours of their terms, as every refresh does.
type nightly struct {
	d    *desk
	last string // the day of the latest run, so that there is one a day
}

func (s *nightly) routes(d *desk) {
	d.get("/api/nightly", func(r *http.Request) (any, error) { return s.state(r.Context()) })
	d.post("/api/nightly", s.set)
}

func (s *nightly) file() string { return filepath.Join(filepath.Dir(s.d.folders.file), "nightly.txt") }

// at is the hour, "" when none is stated. A line that begins with # is a remark.
func (s *nightly) at() string {
	text, err := os.ReadFile(s.file())
	if err != nil {
		return ""
	}
	for line := range strings.Lines(string(text)) {
		if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
			return line
		}
	}
	return ""
}

// nightlyState is the hour and what stands against it.
type nightlyState struct {
	At    string   `json:"at"`
	Jobs  int      `json:"jobs"`  // open ones of this computer
	Notes []string `json:"notes"` // sources whose terms do not allow the hour
}

func (s *nightly) state(ctx context.Context) (nightlyState, error) {
	out := nightlyState{At: s.at(), Notes: []string{}}
	dirs, err := s.d.office.OpenFolders(ctx)
	if err != nil {
		return out, err
	}
	out.Jobs = len(dirs)
	if hour, err := parseHour(out.At); err == nil && out.At != "" {
		out.Notes = s.waits(dirs, nextAt(s.d.now(), hour))
	}
	return out, nil
}

// waits names the sources of jobs that may not be asked at a time.
func (s *nightly) waits(dirs []string, at time.Time) []string {
	notes := []string{}
	for _, dir := range dirs {
		sources, err := s.d.office.Sources(dir)
		j, err2 := job.Read(dir)
		if errors.Join(err, err2) != nil {
			continue // refreshing it will say why
		}
		for _, b := range j.Bases {
			src, err := sources.Find(b.Source)
			if err != nil || src.Terms == nil || src.Terms.OpenAt(at) {
				continue
			}
			say := fmt.Sprintf("the terms of %s do not allow that hour: it is asked from %s on", src.Name, measure.Moment(src.Terms.NextOpening(at)))
			if !slices.Contains(notes, say) {
				notes = append(notes, say)
			}
		}
	}
	return notes
}

func parseHour(text string) (time.Time, error) {
	t, err := time.Parse("15:04", text)
	if err != nil && text != "" {
		return t, &fault.Fault{Place: text, Detail: "is no time of day", Remedy: "write it as 02:30"}
	}
	return t, nil
}

// nextAt is when the clock shows the hour next.
func nextAt(now time.Time, hour time.Time) time.Time {
	at := time.Date(now.Year(), now.Month(), now.Day(), hour.Hour(), hour.Minute(), 0, 0, now.Location())
	if at.Before(now) {
		at = at.AddDate(0, 0, 1)
	}
	return at
}

// set keeps the hour, or takes it away.
func (s *nightly) set(r *http.Request) (any, error) {
	var in struct {
		At string `json:"at"` // "" = not any more
	}
	if err := readJSON(r, &in); err != nil {
		return nil, err
	}
	if _, err := parseHour(in.At); err != nil {
		return nil, err
	}
	text := "# When the desk refreshes all open jobs, each day while it runs.\n" + in.At + "\n"
	var err error
	if in.At == "" {
		if err = os.Remove(s.file()); errors.Is(err, fs.ErrNotExist) {
			err = nil
		}
	} else if err = os.MkdirAll(filepath.Dir(s.file()), 0o755); err == nil {
		err = durable.Write(s.file(), []byte(text), 0o644)
	}
	if err != nil {
		return nil, &fault.Fault{Place: s.file(), Detail: "cannot be written", Err: err, Remedy: "look at the folder's permissions"}
	}
	return s.state(r.Context())
}

// run begins the round when the clock shows the hour, until ctx ends.
func (s *nightly) run(ctx context.Context) {
	tick := time.NewTicker(20 * time.Second)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			s.round(ctx, s.d.now())
		}
	}
}

// round queues a refresh of every open job if it is the hour.
func (s *nightly) round(ctx context.Context, now time.Time) {
	today := now.Format(time.DateOnly)
	if now.Format("15:04") != s.at() || s.last == today {
		return
	}
	s.last = today
	dirs, err := s.d.office.OpenFolders(ctx)
	if err != nil {
		s.d.log.Warn("nightly refresh", "error", err)
		return
	}
	for _, dir := range dirs {
		id := s.d.folders.add(dir)
		if s.d.tasks.busy("refresh", id) == "" {
			s.d.tasks.queue("refresh", id, s.d.tasks.kinds["refresh"](id, dir))
		}
	}
}
