package pack

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"text/template"

	"github.com/pelletier/go-toml/v2"

	"groundsheet/pack/overlay"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
)

// Draft is a new job as it is asked for. Area files, a circle and a route may
// be given together.
type Draft struct {
	Name      string
	Number    string
	AreaFiles []string
	Around    *Around
	Along     *Along
	Margin    measure.Distance
	Units     string
	FitIn     measure.Size
	Source    string
	Zooms     tiles.Zooms
	Invented  bool
	OneCall   string
	Tolerance *Tolerance
	Ticket    *Ticket
	Expected  []string
	Overlays  []overlay.Meta // File is where the record is now; it is copied to overlays/
}

// New makes a job folder: job.toml, and copies of the files it names.
// Everything is read and checked first, so that bad input leaves nothing
// behind. A folder that already holds a job is refused.
func New(dir string, d Draft) (Job, error) {
	path := filepath.Join(dir, JobFile)
	if _, err := os.Lstat(path); err == nil {
		return Job{}, &BadJob{path, "there is a job already", "name another folder, or edit this job"}
	}
	files, j, err := d.gather(dir)
	if err != nil {
		return Job{}, err
	}
	text, err := j.text()
	if err != nil {
		return Job{}, err
	}
	if _, err := ParseJob([]byte(text), dir); err != nil {
		return Job{}, err
	}
	files = append(files, file{JobFile, []byte(text)})
	return j, writeFiles(dir, files)
}

type file struct {
	name string
	data []byte
}

// gather reads the files named in the draft and proves that they can be used.
func (d Draft) gather(dir string) ([]file, Job, error) {
	j := Job{
		Dir: dir, Name: d.Name, Number: d.Number, Units: d.Units, Margin: d.Margin, FitIn: d.FitIn, Invented: d.Invented,
		OneCall: d.OneCall, Tolerance: d.Tolerance, Ticket: d.Ticket, Expected: d.Expected,
		Bases: []Base{{d.Source, d.Zooms}},
	}
	// Files are named from where the user stands, so read them with no folder.
	here := Job{Area: d.AreaFiles}
	if d.Around != nil {
		here.Around = []Around{*d.Around}
	}
	if d.Along != nil {
		here.Along = []Along{*d.Along}
	}
	if a, err := here.ReadArea(); err != nil {
		return nil, Job{}, err
	} else if a.Empty() {
		return nil, Job{}, &BadJob{dir, "no area", "give --area FILE, --around LAT,LON with --radius, or --along FILE with --width"}
	}
	var files []file
	take := func(from, to string) error {
		data, err := here.read(from)
		files = append(files, file{to, data})
		return err
	}
	for i, from := range d.AreaFiles {
		to := "dig-area.geojson"
		if len(d.AreaFiles) > 1 {
			to = fmt.Sprintf("dig-area-%d.geojson", i+1)
		}
		if err := take(from, to); err != nil {
			return nil, Job{}, err
		}
		j.Area = append(j.Area, to)
	}
	if d.Along != nil {
		if err := take(d.Along.File, "route.geojson"); err != nil {
			return nil, Job{}, err
		}
		j.Along = []Along{{"route.geojson", d.Along.Width}}
	}
	j.Around = here.Around
	for i, m := range d.Overlays {
		from := m.File
		m.File = fmt.Sprintf("overlays/%d-%s.geojson", i+1, overlay.Slug(strings.TrimSuffix(filepath.Base(from), filepath.Ext(from))))
		if err := take(from, m.File); err != nil {
			return nil, Job{}, err
		}
		if _, err := overlay.Read(files[len(files)-1].data, m, "check"); err != nil {
			return nil, Job{}, err
		}
		j.Overlays = append(j.Overlays, m)
	}
	return files, j, j.Check()
}

func writeFiles(dir string, files []file) error {
	for _, f := range files {
		path := filepath.Join(dir, filepath.FromSlash(f.name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		out, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
		if errors.Is(err, os.ErrExist) {
			return &BadJob{path, "the file is already there", "name an empty or a new folder"}
		}
		if err != nil {
			return err
		}
		_, err = out.Write(f.data)
		if err = errors.Join(err, out.Close()); err != nil {
			return err
		}
	}
	return nil
}

var jobText = template.Must(template.New("job").Funcs(template.FuncMap{"q": quote}).Parse(`# What to prepare for this site. Distances carry a unit: 50ft, 24in, 15m.
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
fit_in = "{{printf "%d" .FitIn}}B"
{{- end}}
{{- if .OneCall}}
one_call = {{q .OneCall}}
{{- end}}
{{- if .Expected}}
expected = [{{range $i, $u := .Expected}}{{if $i}}, {{end}}{{q $u}}{{end}}]   # utilities that were notified
{{- end}}
{{range .Around}}
[[around]]
center = "{{.Lat}},{{.Lon}}"
radius = {{q (.Radius.Text $.Units)}}
{{end}}{{range .Along}}
[[along]]
file = {{q .File}}
width = {{q (.Width.Text $.Units)}}
{{end}}{{range .Bases}}
[[base]]
source = {{q .Source}}
zooms = [{{.Zooms.Min}}, {{.Zooms.Max}}]
{{end}}{{with .Tolerance}}
[tolerance]
each_side = {{q (.EachSide.Text $.Units)}}
rule = {{q .Rule}}
{{end}}{{with .Ticket}}
[ticket]
number = {{q .Number}}
{{- if .ValidUntil}}
valid_until = {{.ValidUntil}}
{{- end}}
{{end}}{{range .Overlays}}
[[overlay]]
file = {{q .File}}
utility = {{q .Utility}}
{{- if .Title}}
title = {{q .Title}}
{{- end}}
{{- if .QualityLevel}}
quality_level = {{q .QualityLevel}}
{{- end}}
{{- if .Recorded}}
recorded = {{q .Recorded}}
{{- end}}
{{- if .Owner}}
owner = {{q .Owner}}
{{- end}}
{{- if .Record}}
record = {{q .Record}}
{{- end}}
{{- if .Accuracy}}
accuracy = {{q (.Accuracy.Text $.Units)}}
{{- end}}
{{- if .Note}}
note = {{q .Note}}
{{- end}}
{{end}}`))

func (j Job) text() (string, error) {
	var b strings.Builder
	err := jobText.Execute(&b, j)
	return b.String(), err
}

// quote writes a TOML string.
func quote(s string) (string, error) {
	if !strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == '"' || r == '\\' || r == 0x7f }) {
		return `"` + s + `"`, nil
	}
	b, err := toml.Marshal(map[string]string{"v": s})
	if err != nil {
		return "", err
	}
	return strings.TrimSpace(strings.TrimPrefix(string(b), "v = ")), nil
}
