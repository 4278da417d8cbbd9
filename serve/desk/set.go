package desk

import (
	"cmp"
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"

	"groundsheet/pack"
	"groundsheet/pack/job"
	"groundsheet/pack/office"
	"groundsheet/pack/record"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/tomledit"
)

// stated is what a job states beside its area: shown as a form, set one key at a time.
type stated struct {
	d     *desk
	areas *areas
}

func (s *stated) routes(d *desk) {
	d.get("/api/jobs/{job}/facts", s.get)
	d.post("/api/jobs/{job}/set", s.set)
	d.post("/api/jobs/{job}/try", s.try)
	d.post("/api/jobs", s.make)
}

// statedDocument is a job's facts as people type them.
type statedDocument struct {
	Etag      string      `json:"etag"`
	Name      string      `json:"name"`
	Number    string      `json:"number"`
	Units     string      `json:"units"`
	OneCall   string      `json:"one_call"`
	Margin    string      `json:"margin"`
	Reading   string      `json:"reading"` // "" = left out, which is 6 in
	Ticket    pack.Ticket `json:"ticket"`
	Expected  []string    `json:"expected"`
	Utilities []utility   `json:"utilities"` // that there are
}

type utility struct {
	Code  string `json:"code"`
	Label string `json:"label"`
}

func (s *stated) get(r *http.Request) (any, error) {
	seen, err := s.d.look(r.PathValue("job"))
	if err = cmp.Or(err, seen.Err); err != nil {
		return nil, err
	}
	j := seen.Job
	out := statedDocument{Etag: seen.Etag, Name: j.Name, Number: j.Number, Units: j.Units, OneCall: j.OneCall,
		Margin: j.Margin.Text(j.Units), Expected: append([]string{}, j.Expected...)}
	if j.Reading > 0 {
		out.Reading = j.Reading.Text(j.Units)
	}
	if j.Ticket != nil {
		out.Ticket = *j.Ticket
	}
	for _, u := range record.Utilities() {
		out.Utilities = append(out.Utilities, utility{u.Code, u.Name})
	}
	return out, nil
}

// change is one key as a page sets it; null takes it out.
type change struct {
	Key   string          `json:"key"`
	Value json.RawMessage `json:"value"`
}

func changesOf(all []change) (out []job.Change, err error) {
	for _, c := range all {
		v, err := tomledit.FromJSON(c.Value)
		if err != nil {
			return nil, &fault.Fault{Place: c.Key, Err: err}
		}
		out = append(out, job.Change{Path: c.Key, Value: v})
	}
	return out, nil
}

func (s *stated) set(r *http.Request) (any, error) {
	var in struct {
		Etag    string   `json:"etag"`
		Changes []change `json:"changes"`
	}
	id := r.PathValue("job")
	dir, err := s.d.job(id)
	if err == nil {
		err = readJSON(r, &in)
	}
	if err != nil {
		return nil, err
	}
	changes, err := changesOf(in.Changes)
	if err != nil {
		return nil, err
	}
	err = job.Rewrite(dir, "the desk, changing job.toml", func([]byte) ([]job.Change, error) { return changes, s.d.unchanged(dir, in.Etag) })
	if err != nil {
		return nil, err
	}
	s.d.tellJob(id, dir)
	return s.d.documentOf(id, s.d.files.look(dir)), nil
}

// try says of each key what would be wrong with it, and writes nothing.
func (s *stated) try(r *http.Request) (any, error) {
	var in struct {
		Changes []change `json:"changes"`
	}
	dir, err := s.d.job(r.PathValue("job"))
	if err == nil {
		err = readJSON(r, &in)
	}
	if err != nil {
		return nil, err
	}
	text, err := os.ReadFile(filepath.Join(dir, job.FileName))
	if err != nil {
		return nil, err
	}
	problems := map[string]*problem{}
	for _, c := range in.Changes {
		one, err := changesOf([]change{c})
		if err == nil {
			_, err = job.Edit(text, dir, one...)
		}
		if err != nil {
			problems[c.Key] = besideIt(problemOf(err))
		}
	}
	return map[string]any{"problems": problems}, nil
}

var ofTheFile = regexp.MustCompile(`^line \d+(, column \d+)?: ([a-z_.]+: )?`)

// besideIt tells a problem beside the value that it is about, not in the file.
func besideIt(p *problem) *problem {
	p.What, p.Where = ofTheFile.ReplaceAllString(p.What, ""), ""
	if strings.HasPrefix(p.Remedy, "fix the ") {
		p.Remedy = ""
	}
	return p
}

// newJob is a job as it is first drawn.
type newJob struct {
	Place  string      `json:"place"` // the folder that its folder is made in, one of the desk's places
	Name   string      `json:"name"`
	Number string      `json:"number"`
	Units  string      `json:"units"`
	Margin string      `json:"margin"`
	Source string      `json:"source"` // "" = the only one there is
	Ticket pack.Ticket `json:"ticket"`
	Set    []change    `json:"set"` // what else was chosen for it
	drawing
}

// make makes a job folder from a drawing, named after the job.
func (s *stated) make(r *http.Request) (any, error) {
	var in newJob
	if err := readJSON(r, &in); err != nil {
		return nil, err
	}
	dir, err := s.folderFor(in.Place, in.Name)
	if err != nil {
		return nil, err
	}
	book, err := s.d.office.Sources(dir)
	if err != nil {
		return nil, err
	}
	src, err := office.ChooseSource(book, in.Source)
	if err != nil {
		return nil, err
	}
	draft := job.Job{Name: strings.TrimSpace(in.Name), Number: in.Number, Units: in.Units, Bases: []job.Base{{Source: src.Name, Auto: true}}}
	if draft.Margin, err = measure.ParseDistance(in.Margin); err != nil {
		return nil, &fault.Fault{Place: "margin", Err: err}
	}
	if in.Ticket != (pack.Ticket{}) {
		draft.Ticket = &in.Ticket
	}
	also, err := changesOf(in.Set)
	if err != nil {
		return nil, err
	}
	drawn, err := s.areas.drawing(in.drawing)
	if err != nil {
		return nil, err
	}
	if _, err := job.NewDrawn(dir, draft, drawn, also...); err != nil {
		return nil, err
	}
	id := s.d.folders.add(dir)
	s.d.publish("jobs", nil)
	return s.d.documentOf(id, s.d.files.look(dir)), nil
}

// folderFor is a folder that is not there yet, under one of the desk's places.
func (s *stated) folderFor(place, name string) (string, error) {
	if strings.TrimSpace(name) == "" {
		return "", &fault.Fault{Place: "name", Detail: "the job has no name", Remedy: "give it one, such as the street"}
	}
	known := s.d.folders.list()
	for _, p := range known {
		if !p.Gone && (p.Folder == place || place == "" && len(known) == 1) {
			return free(filepath.Join(p.Folder, record.Slug(name))), nil
		}
	}
	return "", &fault.Fault{Detail: "it is not known where the job's folder goes", Remedy: "choose one of the desk's folders, or add one"}
}

// free is a path that nothing has.
func free(path string) string {
	for n := 1; ; n++ {
		try := path
		if n > 1 {
			try += "-" + strconv.Itoa(n)
		}
		if _, err := os.Lstat(try); os.IsNotExist(err) || n > 1000 {
			return try
		}
	}
}
