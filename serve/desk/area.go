package desk

import (
	"cmp"
	"fmt"
	"net/http"
	"sync"

	"github.com/paulmach/orb"

	"groundsheet/pack/job"
	"groundsheet/tiles/area"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
	typed "groundsheet/tiles/places"
)

// areas is the area of a job as a drawing: read, looked at, saved.
type areas struct {
	d *desk

	mu    sync.Mutex
	files []droppedFile // the latest last
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
	seen, err := s.d.look(r.PathValue("job"))
	if err = cmp.Or(err, seen.Err); err != nil {
		return nil, err
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
		out.Outline = area.Fewer(whole.Outline(min(margin.Meters(), area.MaxReach)))
		out.Area = measure.GroundArea(area.Area{Polygons: whole.Outline(0)}.SquareMeters(), in.Units)
	}
	return out, nil
}

// others are where the records of a job lie; none where they cannot be read, which
// others tell.
func (s *areas) others(id string) (all []orb.Bound) {
	seen, err := s.d.look(id)
	if err != nil {
		return nil
	}
	in, err := s.d.files.inputsOf(seen)
	if err != nil {
		return nil
	}
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
