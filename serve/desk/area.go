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
	"sync"

	"github.com/paulmach/orb"

	"groundsheet/pack/job"
	"groundsheet/tiles/area"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
	typed "groundsheet/tiles/places"
	"groundsheet/tiles/vector"
)

// areas is the area of a job as a drawing: read, looked at, saved.
type areas struct {
	d *desk

	mu    sync.Mutex
	files []droppedFile // the latest last
	seen  string        // the etag of the job whose records bounds are of
	bound []orb.Bound
}

func newAreas(d *desk) *areas { return &areas{d: d} }

func (s *areas) routes(d *desk) {
	(&stated{d, s}).routes(d)
	d.get("/api/jobs/{job}/area", s.shapes)
	d.post("/api/jobs/{job}/area", s.save)
	d.post("/api/area/look", s.look)
	d.postFile("/api/read", s.read)
	d.post("/api/place", s.place)
}

// shapesDocument is what a map draws of a job's area, each shape by itself.
type shapesDocument struct {
	Etag   string      `json:"etag"`
	Shapes []job.Shape `json:"shapes"`
	Notes  []string    `json:"notes"`
}

func (s *areas) shapes(r *http.Request) (any, error) {
	dir, err := s.d.job(r.PathValue("job"))
	if err != nil {
		return nil, err
	}
	seen := s.d.files.look(dir)
	if seen.Err != nil {
		return nil, seen.Err
	}
	all, notes, err := seen.Job.Shapes()
	return shapesDocument{seen.Etag, append([]job.Shape{}, all...), append([]string{}, notes...)}, err
}

// drawing is what a page sends of an area.
type drawing struct {
	Shapes  []job.Shape `json:"shapes"`
	Dropped []struct {
		File  string `json:"file"` // as [areas.read] named it
		Along bool   `json:"along"`
	} `json:"dropped"` // in the order of "drop[0]", "drop[1]", …
}

func (s *areas) drawing(in drawing) (job.Drawing, error) {
	out := job.Drawing{Shapes: in.Shapes}
	for _, f := range in.Dropped {
		file, err := s.kept(f.File)
		if err != nil {
			return out, err
		}
		out.Dropped = append(out.Dropped, job.Dropped{File: file, Along: f.Along})
	}
	return out, nil
}

func (s *areas) save(r *http.Request) (any, error) {
	var in struct {
		Etag string `json:"etag"`
		drawing
	}
	id := r.PathValue("job")
	dir, err := s.d.job(id)
	if err == nil {
		err = readJSON(r, &in)
	}
	if err != nil {
		return nil, err
	}
	drawn, err := s.drawing(in.drawing)
	if err != nil {
		return nil, err
	}
	if err := job.Draw(dir, "the desk, saving the area", drawn, func() error { return s.d.unchanged(dir, in.Etag) }); err != nil {
		return nil, err
	}
	s.d.tellJob(id, dir)
	return s.d.documentOf(id, s.d.files.look(dir)), nil
}

// lookedAt is what a drawing comes to.
type lookedAt struct {
	Odd     []job.Odd        `json:"odd"`
	Area    string           `json:"area"`    // on the ground, in words
	Outline orb.MultiPolygon `json:"outline"` // with the margin
}

// look says what is odd about a drawing that is not saved yet, and draws its margin.
func (s *areas) look(r *http.Request) (any, error) {
	var in struct {
		Job    string      `json:"job"` // its records are looked at too; "" = none yet
		Units  string      `json:"units"`
		Margin string      `json:"margin"`
		Shapes []job.Shape `json:"shapes"`
	}
	if err := readJSON(r, &in); err != nil {
		return nil, err
	}
	margin, err := measure.ParseDistance(in.Margin)
	if err != nil {
		return nil, fmt.Errorf("margin: %w", err)
	}
	whole, odd := job.LookAt(in.Shapes, in.Units, s.others(in.Job))
	out := lookedAt{Odd: append([]job.Odd{}, odd...), Outline: orb.MultiPolygon{}}
	if !whole.Empty() {
		out.Outline = whole.Outline(min(margin.Meters(), area.MaxReach))
		out.Area = measure.GroundArea(area.Area{Polygons: whole.Outline(0)}.SquareMeters(), in.Units)
	}
	return out, nil
}

// others are where the records of a job lie; none where they cannot be read, which
// others tell.
func (s *areas) others(id string) (all []orb.Bound) {
	dir, err := s.d.job(id)
	if err != nil {
		return nil
	}
	seen := s.d.files.look(dir)
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.seen == seen.Etag {
		return s.bound
	}
	in, err := seen.Job.ReadInputs()
	if err != nil {
		return nil
	}
	defer func() { s.seen, s.bound = seen.Etag, all }()
	for _, o := range in.Overlays {
		var b orb.Bound
		for i, f := range o.Features {
			if f.Geometry == nil {
				continue
			}
			if b.IsZero() || i == 0 {
				b = f.Geometry.Bound()
			}
			b = b.Union(f.Geometry.Bound())
		}
		all = append(all, b)
	}
	return all
}

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
	File     string            `json:"file"` // names it when the area is saved
	Name     string            `json:"name"`
	Outlines []job.Shape       `json:"outlines"`
	Routes   []job.Shape       `json:"routes"`
	Points   []orb.Point       `json:"points"` // to snap to
	Notes    []string          `json:"notes"`
	Problems map[string]string `json:"problems"` // why it cannot be "outlines" or "routes"
}

// read reads a dropped file, with its side files: ?name=a.shp&size=100&name=a.dbf&size=50,
// whose bytes come one after the other.
func (s *areas) read(r *http.Request) (any, error) {
	all, err := bodies(r)
	if err != nil {
		return nil, err
	}
	f := mainOf(all)
	out := readDocument{Name: f.Name, Outlines: []job.Shape{}, Routes: []job.Shape{}, Points: []orb.Point{}, Notes: []string{}, Problems: map[string]string{}}
	outlines, notes, errArea := job.ShapesIn(job.Dropped{File: f})
	routes, more, errLine := job.ShapesIn(job.Dropped{File: f, Along: true})
	if len(outlines) == 0 && len(routes) == 0 {
		if errArea == nil {
			errArea = errLine
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
	if out.Notes = append(out.Notes, notes...); len(outlines) == 0 {
		out.Notes = append(out.Notes, more...)
	}
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

// placeDocument is a place as it was typed, and the one that was likely meant.
type placeDocument struct {
	At     orb.Point  `json:"at"`
	Likely *orb.Point `json:"likely"` // in the United States; null = as typed
}

func (s *areas) place(r *http.Request) (any, error) {
	var in struct {
		Text  string `json:"text"`
		Units string `json:"units"`
	}
	if err := readJSON(r, &in); err != nil {
		return nil, err
	}
	lat, lon, err := typed.Parse(in.Text)
	if err != nil {
		return nil, err
	}
	out := placeDocument{At: orb.Point{lon, lat}}
	if a, o, ok := typed.MeantInUS(lat, lon); ok && in.Units == "us" {
		out.Likely = &orb.Point{o, a}
	}
	if lat < -90 || lat > 90 || lon < -180 || lon > 180 {
		return nil, &fault.Fault{Detail: fmt.Sprintf("%v, %v is no place: a latitude is between -90 and 90", lat, lon), Remedy: "write the latitude first"}
	}
	return out, nil
}
