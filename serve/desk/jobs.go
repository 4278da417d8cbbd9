package desk

import (
	"cmp"
	"encoding/json"
	"errors"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/job"
	"groundsheet/tiles/words"
)

// jobs is the list of jobs, and each of them.
type jobs struct{ d *desk }

func (s *jobs) routes(d *desk) {
	d.get("/api/jobs", s.list)
	d.get("/api/jobs/{job}", s.one)
}

// jobRow is a job in the list.
type jobRow struct {
	ID      string     `json:"id"`
	Folder  string     `json:"folder"`
	Name    string     `json:"name"`
	Number  string     `json:"number"`
	LastDay string     `json:"last_day"` // of the ticket; "" = not stated
	Packs   []packFile `json:"packs"`
	Problem *problem   `json:"problem"` // why job.toml cannot be read
}

func (s *jobs) list(r *http.Request) (any, error) {
	known := s.d.folders.scan(r.Context())
	rows := []jobRow{}
	for _, id := range sorted(known) {
		rows = append(rows, rowOf(id, s.d.files.look(known[id])))
	}
	today := s.d.now().Format(time.DateOnly)
	slices.SortStableFunc(rows, func(a, b jobRow) int {
		x, y := due(a.LastDay, today), due(b.LastDay, today)
		return cmp.Or(cmp.Compare(x.group, y.group), cmp.Compare(x.days, y.days), strings.Compare(a.Name, b.Name))
	})
	return map[string]any{"jobs": rows, "places": s.d.folders.list()}, nil
}

// order is where a job stands in the list: first by group, then by days.
type order struct{ group, days int }

// due orders jobs by their tickets' last day: what ends first comes first, then those
// without a last day, then those that have ended, the latest first.
func due(day, today string) order {
	last, err := time.Parse(time.DateOnly, day)
	now, _ := time.Parse(time.DateOnly, today)
	left := int(last.Sub(now).Hours() / 24)
	switch {
	case err != nil:
		return order{group: 1}
	case left < 0:
		return order{2, -left}
	}
	return order{0, left}
}

func rowOf(id string, seen seen) jobRow {
	r := jobRow{ID: id, Folder: seen.Dir, Name: seen.Job.Name, Number: seen.Job.Number, Packs: seen.Packs, Problem: problemOf(seen.Err)}
	if t := seen.Job.Ticket; t != nil {
		r.LastDay = t.ValidUntil
	}
	return r
}

// jobDocument is a job as its files are now.
type jobDocument struct {
	jobRow
	Etag     string          `json:"etag"`
	Units    string          `json:"units"`
	MarginM  float64         `json:"margin_m"`
	Ticket   *pack.Ticket    `json:"ticket"`
	Expected []string        `json:"expected"`
	Bases    []baseDocument  `json:"bases"`
	Ground   json.RawMessage `json:"ground"` // GeoJSON: the area, and with its margin; null when its files cannot be read
	Area     string          `json:"area"`   // its size, for people
	Bounds   []float64       `json:"bounds"` // west, south, east, north; of the area without margin
	Notes    []string        `json:"notes"`
	LockedBy string          `json:"locked_by"` // who is writing into the folder; "" = nobody
}

type baseDocument struct {
	Source    string `json:"source"`
	Zooms     []int  `json:"zooms"` // null = the plan chooses them
	DeepAlong string `json:"deep_along"`
}

// areaGone says whether a file of the job's area is not there: then the area can be
// drawn anew.
func areaGone(j job.Job) bool {
	names := append([]string{}, j.Area...)
	for _, w := range j.Within {
		names = append(names, w.File)
	}
	for _, a := range j.Along {
		names = append(names, a.File)
	}
	return slices.ContainsFunc(names, func(name string) bool {
		if !filepath.IsAbs(name) {
			name = filepath.Join(j.Dir, name)
		}
		_, err := os.Stat(name)
		return errors.Is(err, fs.ErrNotExist)
	})
}

func (s *jobs) one(r *http.Request) (any, error) {
	id := r.PathValue("job")
	seen, err := s.d.look(id)
	if err != nil {
		return nil, err
	}
	return s.d.documentOf(id, seen), nil
}

func (d *desk) documentOf(id string, seen seen) jobDocument {
	j := seen.Job
	doc := jobDocument{jobRow: rowOf(id, seen), Etag: seen.Etag, Units: cmp.Or(j.Units, "us"), MarginM: j.Margin.Meters(),
		Ticket: j.Ticket, Expected: append([]string{}, j.Expected...), Bases: []baseDocument{}, Notes: []string{},
		LockedBy: job.Holder(seen.Dir)}
	for _, b := range j.Bases {
		one := baseDocument{Source: b.Source}
		if !b.Auto {
			one.Zooms = []int{b.Zooms.Min, b.Zooms.Max}
		}
		if b.DeepAlong > 0 {
			one.DeepAlong = b.DeepAlong.String()
		}
		doc.Bases = append(doc.Bases, one)
	}
	if seen.Err != nil {
		return doc
	}
	in, err := d.files.inputsOf(seen)
	if err != nil {
		doc.Problem = problemOf(err)
		if areaGone(j) {
			doc.Problem.Remedy = words.Say("draw.file_gone_do")
		}
		return doc
	}
	doc.Ground, doc.Notes = in.Packed.Area, append(doc.Notes, in.Notes...)
	doc.Area = areaText(in)
	doc.Bounds = boundsOf(in)
	return doc
}

// boundsOf are west, south, east and north of the area without margin; the east may be
// beyond 180.
func boundsOf(in job.Inputs) []float64 {
	f := in.Frame()
	return []float64{f.West, f.South, f.East, f.North}
}
