package job

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/template"

	"groundsheet/tiles/tomledit"
	"groundsheet/tiles/vector"
)

// New makes a job folder: job.toml, and copies of the files that the draft names from
// the current folder. Everything is read and checked first, so that bad input leaves
// nothing behind. A folder that already holds a job is refused.
func New(dir string, draft Job) (Job, error) {
	if err := noJobIn(dir); err != nil {
		return Job{}, err
	}
	files, j, err := draft.gather(dir)
	if err != nil {
		return Job{}, err
	}
	text, err := j.text()
	if err != nil {
		return Job{}, err
	}
	if _, err := Parse([]byte(text), dir); err != nil {
		return Job{}, err
	}
	files = append(files, file{FileName, []byte(text)})
	return j, writeFiles(dir, files)
}

func noJobIn(dir string) error {
	path := filepath.Join(dir, FileName)
	if _, err := os.Lstat(path); err == nil {
		return invalid(path, "there is a job already", "name another folder, or edit this job")
	}
	return nil
}

type file struct {
	name string
	data []byte
}

// gather reads the files that a draft names and proves that they can be used. The job
// names the copies.
func (j Job) gather(dir string) (files []file, out Job, err error) {
	a, _, err := j.ReadArea() // the plan shows the notes
	if err != nil {
		return nil, Job{}, err
	}
	if a.Empty() {
		return nil, Job{}, invalid(dir, "no area", "give --area FILE, --around LAT,LON with --radius, --box LAT,LON,LAT,LON, or --along FILE with --width")
	}
	copied := func(from *string, name string, i, of int) {
		if of > 1 {
			name = fmt.Sprintf("%s-%d", name, i+1)
		}
		var more []file
		if err == nil {
			more, err = j.copies(*from, name)
		}
		if err == nil {
			*from, files = more[0].name, append(files, more...)
		}
	}
	out = j
	out.Dir, out.Area, out.Along, out.Within = dir, slices.Clone(j.Area), slices.Clone(j.Along), slices.Clone(j.Within)
	for i := range out.Area {
		copied(&out.Area[i], "dig-area", i, len(out.Area))
	}
	for i := range out.Within {
		copied(&out.Within[i].File, "outline", i, len(out.Within))
	}
	for i := range out.Along {
		copied(&out.Along[i].File, "route", i, len(out.Along))
	}
	if err != nil {
		return nil, Job{}, err
	}
	return files, out, out.Check()
}

// copies gives a file and its side files, unchanged, under a new name:
// an outline that was handed over is evidence.
func (j Job) copies(from, name string) ([]file, error) {
	f, err := j.open(from)
	if err != nil {
		return nil, err
	}
	return copiesOf(f, name, strings.ToLower(filepath.Ext(from)))
}

// copiesOf gives a file that was read and its side files under a new name.
func copiesOf(f vector.File, name, ending string) ([]file, error) {
	files := []file{{name + ending, f.Data}}
	if f.Beside == nil {
		return files, nil
	}
	for _, side := range vector.SideFiles(ending) {
		data, err := f.Beside(side)
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		files = append(files, file{name + side, data})
	}
	return files, nil
}

// writeFiles writes all or nothing: a file that is there already is left as it
// is when it holds the same, else refused before anything is written.
func writeFiles(dir string, files []file) (err error) {
	var todo []file
	for _, f := range files {
		path := filepath.Join(dir, f.name)
		there, readErr := os.ReadFile(path)
		switch {
		case errors.Is(readErr, os.ErrNotExist):
			todo = append(todo, f)
		case readErr != nil:
			return readErr
		case !bytes.Equal(there, f.data):
			return invalid(path, "another file of this name is already there", "name an empty or a new folder")
		}
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	for i, f := range todo {
		if err := replace(filepath.Join(dir, f.name), f.data); err != nil {
			for _, made := range todo[:i+1] {
				_ = os.Remove(filepath.Join(dir, made.name)) // the first error is the one to tell
			}
			return err
		}
	}
	return nil
}

var jobText = template.Must(template.New("job").Funcs(template.FuncMap{"q": tomledit.Quote}).Parse(`{{define "form"}}{{if .EPSG}}epsg = {{.EPSG}}
{{end}}{{if eq (len .Layers) 1}}layer = {{q (index .Layers 0)}}
{{else if .Layers}}layer = [{{range $i, $l := .Layers}}{{if $i}}, {{end}}{{q $l}}{{end}}]
{{end}}{{if .Encoding}}encoding = {{q .Encoding}}
{{end}}{{end}}# What to prepare for this site. Distances carry a unit: 50ft, 24in, 15m.
name = {{q .Name}}
number = {{q .Number}}
{{- if .Invented}}
invented = true               # practice data; said on every screen
{{- end}}
{{- if .Area}}
area = [{{range $i, $f := .Area}}{{if $i}}, {{end}}{{q $f}}{{end}}]
{{- end}}
margin = {{q (.Margin.Text $.Units)}}
units = {{q .Units}}                  # us | metric
{{- if .FitIn}}
fit_in = {{q .FitIn.Text}}
{{- end}}
{{- if .OneCall}}
one_call = {{q .OneCall}}
{{- end}}
# records_older_than = "10y"  # check names older records; left out: none is too old
# depth_gap = "50ft"          # readings farther apart tell no depth between them; left out: 15m
# depth_slope = 0.2           # rise over run beyond which depths disagree; left out: 0.2
{{range .Around}}
[[around]]
center = "{{.Lat}},{{.Lon}}"
radius = {{q (.Radius.Text $.Units)}}
{{end}}{{range .Along}}
[[along]]
file = {{q .File}}
width = {{q (.Width.Text $.Units)}}
{{template "form" .Form}}{{end}}{{range .Within}}
[[within]]
file = {{q .File}}
{{template "form" .Form}}{{end}}{{range .Boxes}}
[[box]]
from = "{{.FromLat}},{{.FromLon}}"
to = "{{.ToLat}},{{.ToLon}}"
{{end}}{{range .Bases}}
[[base]]
source = {{q .Source}}
{{- if .Auto}}
# zooms = [14, 21]            # left out: the plan chooses them
{{- else}}
zooms = [{{.Zooms.Min}}, {{.Zooms.Max}}]
{{- end}}
{{end}}
# [tolerance]                 # the local rule, as you state it
# each_side = "24in"          # from the edge of a line where its size is recorded, else from its center
# rule = "the statute, or the client's standard"
# hide_uncertainty = true     # left out: the record's own uncertainty is drawn too, apart
{{with .Ticket}}
[ticket]
number = {{q .Number}}
{{- if .ValidUntil}}
valid_until = {{.ValidUntil}}
{{- end}}
{{end}}`))

func (j Job) text() (string, error) {
	var b strings.Builder
	err := jobText.Execute(&b, j)
	return b.String(), err
}
