package desk

import (
	"crypto/rand"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/pack/job"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/vector"
)

// droppedFile is a file that was dropped on the page, kept until it is saved into a job
// or others push it out.
type droppedFile struct {
	id   string
	file vector.File
	size int64
}

// Of dropped files so many are kept, and so many bytes of them.
const (
	maxDropped      = 40
	maxDroppedBytes = 1 << 30
)

// readDocument is what is in a dropped file.
type readDocument struct {
	File     string              `json:"file"` // names it when the area is saved
	Name     string              `json:"name"`
	Outlines []job.Shape         `json:"outlines"`
	Routes   []job.Shape         `json:"routes"`
	Points   []orb.Point         `json:"points"`   // to snap to
	Notes    map[string][]string `json:"notes"`    // of taking it as "outlines" or "routes"
	Problems map[string]string   `json:"problems"` // why it cannot be one of them
	Asks     *asked              `json:"asks"`     // what has to be said before it can be read; null = nothing
}

// read reads a dropped file, with its side files: ?name=a.shp&size=100&name=a.dbf&size=50,
// whose bytes come one after the other; what the file does not say itself with &epsg=2231
// and &layer=NAME, and &at=LON,LAT is the place that is looked at.
func (s *areas) read(r *http.Request) (any, error) {
	all, err := bodies(r)
	if err != nil {
		return nil, err
	}
	f := mainOf(all)
	how, err := howOf(r.URL.Query())
	if err != nil {
		return nil, err
	}
	f.How = how
	out := readDocument{Name: f.Name, Outlines: []job.Shape{}, Routes: []job.Shape{}, Points: []orb.Point{}, Notes: map[string][]string{}, Problems: map[string]string{}}
	outlines, notes, errArea := job.ShapesIn(job.Dropped{File: f})
	routes, more, errLine := job.ShapesIn(job.Dropped{File: f, Along: true})
	if len(outlines) == 0 && len(routes) == 0 {
		if errArea == nil {
			errArea = errLine
		}
		if out.Asks = askHow(f, errArea, r.URL.Query()["at"]); out.Asks != nil {
			return out, nil
		}
		if errArea != nil {
			return nil, fmt.Errorf("%s: %w", f.Name, errArea)
		}
	}
	for kind, err := range map[string]error{"outlines": errArea, "routes": errLine} {
		if err != nil {
			out.Problems[kind] = err.Error()
		}
	}
	out.Outlines, out.Routes = append(out.Outlines, outlines...), append(out.Routes, routes...)
	out.Notes["outlines"], out.Notes["routes"] = append([]string{}, notes...), append([]string{}, more...)
	out.Points = append(out.Points, pointsIn(f)...)
	out.File = s.keep(f, all)
	return out, nil
}

// bodies takes the files of a request apart.
func bodies(r *http.Request) (all []vector.File, err error) {
	bad := &fault.Fault{Detail: "what the page sent is no file with its name and size", Remedy: "load the page again"}
	names, sizes := r.URL.Query()["name"], r.URL.Query()["size"]
	if len(names) == 0 || len(names) != len(sizes) || len(names) > 20 {
		return nil, bad
	}
	for i, name := range names {
		n, err := strconv.ParseInt(sizes[i], 10, 64)
		if err != nil || n < 0 || n > maxFile || name != filepath.Base(name) {
			return nil, bad
		}
		data, err := io.ReadAll(io.LimitReader(r.Body, n))
		if err != nil {
			return nil, err
		}
		if int64(len(data)) != n {
			return nil, bad
		}
		all = append(all, vector.File{Name: name, Data: data})
	}
	return all, nil
}

// mainOf is the file that the others stand beside.
func mainOf(all []vector.File) vector.File {
	main := all[0]
	for _, f := range all {
		if strings.EqualFold(filepath.Ext(f.Name), ".shp") {
			main = f
		}
	}
	stem := strings.TrimSuffix(main.Name, filepath.Ext(main.Name))
	main.Beside = func(ending string) ([]byte, error) {
		for _, f := range all {
			if strings.EqualFold(f.Name, stem+ending) {
				return f.Data, nil
			}
		}
		return nil, fmt.Errorf("%s: %w", stem+ending, fs.ErrNotExist)
	}
	return main
}

func pointsIn(f vector.File) (all []orb.Point) {
	features, _, err := vector.Read(f, vector.Anything)
	if err != nil {
		return nil
	}
	for _, x := range features {
		for g := range geojson.Parts(x.Geometry) {
			if p, ok := g.(orb.Point); ok {
				all = append(all, p)
			}
		}
	}
	return all
}

func (s *areas) keep(f vector.File, all []vector.File) (id string) {
	kept := droppedFile{id: rand.Text(), file: f}
	for _, one := range all {
		kept.size += int64(len(one.Data))
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.files = append(s.files, kept)
	for sum := s.bytes(); len(s.files) > 1 && (len(s.files) > maxDropped || sum > maxDroppedBytes); sum = s.bytes() {
		s.files = s.files[1:]
	}
	return kept.id
}

func (s *areas) bytes() (sum int64) {
	for _, f := range s.files {
		sum += f.size
	}
	return sum
}

func (s *areas) kept(id string) (vector.File, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, f := range s.files {
		if f.id == id {
			return f.file, nil
		}
	}
	return vector.File{}, &fault.Fault{Detail: "a file that was dropped is not here any more", Remedy: "drop it again"}
}
