package desk

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"groundsheet/pack"
	"groundsheet/pack/job"
	"groundsheet/pack/record"
	"groundsheet/pack/record/intake"
	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
)

// records are what is recorded of a job: its overlays, and files that are taken in.
type records struct {
	d     *desk
	drops drops
}

func (s *records) routes(d *desk) {
	d.postFile("/api/drop", s.drops.take)
	d.get("/api/jobs/{job}/overlays", s.list)
	d.get("/api/jobs/{job}/overlays/{n}", s.one)
	d.post("/api/jobs/{job}/overlays/{n}/remove", s.remove)
	d.post("/api/jobs/{job}/records/propose", s.propose)
	d.post("/api/jobs/{job}/records", s.add)
}

// overlayRow is an overlay of a job: what a pack would say of it, and its file.
type overlayRow struct {
	Summary  json.RawMessage  `json:"summary"` // [pack.Summary]
	File     string           `json:"file"`
	Findings []record.Finding `json:"findings"` // what the import has to say
	OneIn    int              `json:"one_in"`   // of its features, one in so many is drawn here
	Features json.RawMessage  `json:"features"` // GeoJSON of these
}

// recordsDocument is what is recorded of a job.
type recordsDocument struct {
	Etag        string                                 `json:"etag"`
	Overlays    []overlayRow                           `json:"overlays"`
	Missing     []string                               `json:"missing"`      // notified, and without a record here
	NothingHere []string                               `json:"nothing_here"` // of these: a record shows nothing on or near the dig area
	OnlyNear    []string                               `json:"only_near"`
	Utilities   []utilityRow                           `json:"utilities"`
	Styles      map[string]map[string]record.Symbology `json:"styles"` // by utility and quality level; "" = every level but A to D
	States      []record.StateSymbology                `json:"states"`
}

type utilityRow struct {
	Code   string `json:"code"`
	Name   string `json:"name"`
	Letter string `json:"letter"`
	Colour string `json:"colour"`
	Casing string `json:"casing"`
}

// inputs reads the job of a request with all its files.
func (s *records) inputs(r *http.Request) (at seen, in job.Inputs, err error) {
	if at, err = s.d.look(r.PathValue("job")); err != nil {
		return at, in, err
	}
	in, err = s.d.files.inputsOf(at)
	return at, in, err
}

func (s *records) list(r *http.Request) (any, error) {
	at, in, err := s.inputs(r)
	if err != nil {
		return nil, err
	}
	doc := recordsDocument{Etag: at.Etag, Overlays: []overlayRow{}, Styles: map[string]map[string]record.Symbology{},
		States: record.StateSymbologies()}
	for i, o := range in.Overlays {
		features, err := featuresOf(o)
		if err != nil {
			return nil, err
		}
		doc.Overlays = append(doc.Overlays, overlayRow{json.RawMessage(in.Packed.Overlays[i].Summary), o.File, append([]record.Finding{}, o.Findings...), oneIn(o), features})
	}
	expected := in.Job.Expected
	missing, nothing := pack.Gaps(expected, in.Overlays, in.Ground.Area, in.Job.Margin.Meters())
	doc.Missing, doc.NothingHere = append([]string{}, missing...), append([]string{}, nothing...)
	doc.OnlyNear = append([]string{}, pack.OnlyNear(expected, missing, in.Overlays, in.Ground.Area)...)
	for _, u := range record.Utilities() {
		doc.Utilities = append(doc.Utilities, utilityRow{u.Code, u.Name, u.Letter, u.Color, u.Casing})
		doc.Styles[u.Code] = map[string]record.Symbology{}
		for _, level := range []string{"", "A", "B", "C", "D"} {
			doc.Styles[u.Code][level] = record.SymbologyOf(u.Code, level)
		}
	}
	return doc, nil
}

// one gives the features of an overlay; its number counts from 1.
func (s *records) one(r *http.Request) (any, error) {
	_, in, err := s.inputs(r)
	if err != nil {
		return nil, err
	}
	n, err := strconv.Atoi(r.PathValue("n"))
	if err != nil || n < 1 || n > len(in.Packed.Overlays) {
		return nil, noOverlay(r.PathValue("n"))
	}
	return featuresOf(in.Overlays[n-1])
}

// featuresOf is the GeoJSON of what the desk draws of a record.
func featuresOf(o record.Overlay) (json.RawMessage, error) {
	var features bytes.Buffer
	err := thinned(o).WriteGeoJSON(&features)
	return features.Bytes(), err
}

// mostDrawn is how many features of a record the desk's map draws (the project's own
// choice): of more, evenly taken ones show where they lie. The phone draws all.
const mostDrawn = 5000

func oneIn(o record.Overlay) int { return max(1, (len(o.Features)+mostDrawn-1)/mostDrawn) }

// thinned keeps the features that the desk draws.
func thinned(o record.Overlay) record.Overlay {
	every := oneIn(o)
	if every == 1 {
		return o
	}
	var kept []geojson.Feature
	for i := 0; i < len(o.Features); i += every {
		kept = append(kept, o.Features[i])
	}
	o.Features = kept
	return o
}

func noOverlay(n string) error {
	return &fault.Fault{Kind: notFound, Detail: fmt.Sprintf("the job has no overlay number %s", n), Remedy: "look again"}
}

// proposed is what a page shows of a file that was dropped.
type proposed struct {
	intake.Proposal
	Ready    bool            `json:"ready"`    // nothing is open: it can be added
	CopyName string          `json:"copy"`     // of the file that the job will keep
	Summary  json.RawMessage `json:"summary"`  // [pack.Summary] of what can be drawn
	Features json.RawMessage `json:"features"` // GeoJSON of it
	Meanings []string        `json:"meanings"` // of a column
	OneIn    int             `json:"one_in"`   // of its features, one in so many is drawn
}

// dropAnswers names a dropped file, and what was answered of it.
type dropAnswers struct {
	Etag    string         `json:"etag"`
	Drop    string         `json:"drop"`
	Answers intake.Answers `json:"answers"`
}

func (s *records) look(r *http.Request, asked *dropAnswers) (dir string, d *drop, p intake.Proposal, err error) {
	if err = readJSON(r, asked); err != nil {
		return "", nil, p, err
	}
	if err = asked.Answers.Check(); err != nil {
		return "", nil, p, err
	}
	if dir, err = s.d.job(r.PathValue("job")); err != nil {
		return "", nil, p, err
	}
	if d, err = s.drops.find(asked.Drop); err != nil {
		return "", nil, p, err
	}
	j, err := job.Read(dir)
	if err != nil {
		return "", nil, p, err
	}
	site, err := j.Site(s.d.now())
	if err != nil {
		return "", nil, p, err
	}
	return dir, d, intake.Propose(d.file(), site, asked.Answers), nil
}

func (s *records) propose(r *http.Request) (any, error) {
	var asked dropAnswers
	_, d, p, err := s.look(r, &asked)
	if err != nil {
		return nil, err
	}
	whole := p.Overlay()
	drawn, err := pack.Overlays([]record.Overlay{thinned(whole)}, tiles.Box{West: -180, South: -90, East: 180, North: 90})
	if err != nil {
		return nil, err
	}
	_, ready := p.Meta()
	summary, features := json.RawMessage(drawn[0].Summary), json.RawMessage(drawn[0].Features)
	meanings := slices.Concat(record.PlaceMeanings(), record.Meanings())
	return proposed{p, ready, intake.CopyName(d.file()), summary, features, meanings, oneIn(whole)}, nil
}

// add takes a dropped file into the job, as it was proposed and answered.
func (s *records) add(r *http.Request) (any, error) {
	var asked dropAnswers
	dir, d, p, err := s.look(r, &asked)
	if err != nil {
		return nil, err
	}
	if err := s.d.unchanged(dir, asked.Etag); err != nil {
		return nil, err
	}
	m, ready := p.Meta()
	if !ready {
		return nil, &fault.Fault{Place: d.name, Detail: "something must be answered first", Remedy: "answer what is asked"}
	}
	file, err := job.AddOverlay(dir, "groundsheet desk, adding "+d.name, d.file(), m, p.Remarks())
	if err != nil {
		return nil, err
	}
	return map[string]string{"file": file}, nil
}

// remove takes an overlay out of job.toml; its file stays in the folder.
func (s *records) remove(r *http.Request) (any, error) {
	var asked struct {
		Etag string `json:"etag"`
	}
	if err := readJSON(r, &asked); err != nil {
		return nil, err
	}
	dir, err := s.d.job(r.PathValue("job"))
	if err != nil {
		return nil, err
	}
	if err := s.d.unchanged(dir, asked.Etag); err != nil {
		return nil, err
	}
	n, err := strconv.Atoi(r.PathValue("n"))
	if err != nil {
		return nil, noOverlay(r.PathValue("n"))
	}
	file, err := job.RemoveOverlay(dir, "groundsheet desk, removing a record", n)
	if err != nil {
		return nil, err
	}
	return map[string]string{"file": file}, nil
}
