package desk

import (
	"context"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"time"

	"groundsheet/pack/office"
	"groundsheet/tiles"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/source"
	"groundsheet/tiles/words"
)

// newSource adds sources: an address is asked what it is, its layers are looked at, and
// the person says what its terms are. Nothing is written before that.
type newSource struct {
	d *desk

	mu    sync.Mutex // guards what was offered
	last  int
	looks map[string]*looked

	pace sync.Mutex // one tile is tried at a time
	next time.Time
}

// looked is an address that was asked what it is.
type looked struct {
	asked  office.NewSource
	hidden bool
	offers []discover.Offer
}

const (
	mostLooked = 20                     // addresses that are remembered
	mostOffers = 2000                   // layers of one service that are listed
	tryEvery   = 500 * time.Millisecond // between two tiles that are tried, as source.DefaultRequestsPerSecond
)

func newNewSource(d *desk) *newSource { return &newSource{d: d, looks: map[string]*looked{}} }

func (s *newSource) routes(d *desk) {
	d.post("/api/sources/look", s.look)
	d.post("/api/sources/try", s.try)
	d.post("/api/sources", s.add)
}

// offerRow is a layer that could be a source.
type offerRow struct {
	Name        string      `json:"name"` // proposed
	Layer       string      `json:"layer"`
	Title       string      `json:"title"`
	Kind        string      `json:"kind"`
	Zooms       []int       `json:"zooms"` // null while they are not known
	Attribution string      `json:"attribution"`
	Bounds      *[4]float64 `json:"bounds"`
	Notes       []string    `json:"notes"`
	File        string      `json:"file"` // of a file or folder
}

// look asks an address what it is.
func (s *newSource) look(r *http.Request) (any, error) {
	var in struct {
		Address string `json:"address"`
		Layer   string `json:"layer"`
		KeyEnv  string `json:"key_env"`
		Contact string `json:"contact"`
		Zooms   []int  `json:"zooms"`
	}
	if err := readJSON(r, &in); err != nil {
		return nil, err
	}
	asked := office.NewSource{Where: strings.TrimSpace(in.Address), Layer: in.Layer, KeyEnv: in.KeyEnv, Contact: in.Contact}
	var err error
	if asked.Draw, err = office.DrawOf(pathsOf(asked.Where), ""); err != nil {
		return nil, err
	}
	if len(in.Zooms) == 2 {
		asked.Zooms = tiles.Zooms{Min: in.Zooms[0], Max: in.Zooms[1]}
		if err := asked.Zooms.Check(); err != nil {
			return nil, err
		}
	}
	switch {
	case asked.Where == "":
		return nil, &fault.Fault{Detail: words.Say("look.no_address"), Remedy: words.Say("look.no_address_do")}
	case strings.Contains(asked.Where, "{z}") && len(in.Zooms) != 2 && strings.Contains(asked.Where, "://"):
		return nil, &fault.Fault{Place: "zooms", Detail: words.Say("look.no_zooms"), Remedy: words.Say("look.no_zooms_do")}
	case strings.Contains(asked.Where, "{key}") && asked.KeyEnv == "":
		return nil, &fault.Fault{Place: "key_env", Detail: words.Say("look.no_key"), Remedy: words.Say("look.no_key_do")}
	}
	offers, hidden, err := asked.Offers(r.Context())
	if err != nil {
		return nil, err
	}
	if len(offers) == 0 {
		return nil, &fault.Fault{Detail: "it has no layer that can be a base map", Remedy: "ask the provider"}
	}
	l := &looked{asked, hidden, offers[:min(len(offers), mostOffers)]}
	return map[string]any{"look": s.keep(l), "offers": rowsOf(l), "key_env": keyOf(l)}, nil
}

// pathsOf are the files that a map is drawn from, as they are typed in one field.
func pathsOf(text string) (all []string) {
	for part := range strings.SplitSeq(text, ";") {
		all = append(all, strings.TrimSpace(part))
	}
	return all
}

// keyOf is the environment variable that has to hold the key; "" = none is needed.
func keyOf(l *looked) string {
	if l.hidden || strings.Contains(l.asked.Where, "{key}") {
		return l.offers[0].Source.KeyEnv
	}
	return ""
}

func rowsOf(l *looked) []offerRow {
	rows := []offerRow{}
	for _, o := range l.offers {
		row := offerRow{Name: office.NameFor(o, l.asked.Where), Layer: o.Source.Layer, Title: o.Title, Kind: o.Source.Kind,
			Attribution: o.Source.Attribution, Notes: append([]string{}, o.Notes...), File: o.Source.File}
		if o.Whole {
			row.Zooms = []int{o.Source.Zooms.Min, o.Source.Zooms.Max}
		}
		if b := o.Source.Bounds; b != nil {
			row.Bounds = &[4]float64{b.West, b.South, b.East, b.North}
		}
		rows = append(rows, row)
	}
	return rows
}

func (s *newSource) keep(l *looked) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.last++
	s.looks[strconv.Itoa(s.last)] = l
	delete(s.looks, strconv.Itoa(s.last-mostLooked))
	return strconv.Itoa(s.last)
}

// offer is one that was looked at, with all that is known of it: a service of many
// layers is asked for this one.
func (s *newSource) offer(ctx context.Context, look string, n int) (*looked, discover.Offer, error) {
	s.mu.Lock()
	l := s.looks[look]
	s.mu.Unlock()
	if l == nil || n < 0 || n >= len(l.offers) {
		return nil, discover.Offer{}, &fault.Fault{Kind: notFound, Detail: words.Say("look.forgotten"), Remedy: words.Say("look.forgotten_do")}
	}
	o := l.offers[n]
	if o.Whole || o.Source.File != "" {
		return l, o, nil
	}
	asked := l.asked
	asked.Layer = o.Source.Layer
	all, _, err := asked.Offers(ctx)
	if err != nil {
		return l, o, err
	}
	if len(all) != 1 || !all[0].Whole {
		return l, o, &fault.Fault{Place: o.Source.Layer, Detail: words.Say("look.unfit_layer"), Remedy: words.Say("look.unfit_layer_do")}
	}
	s.mu.Lock()
	l.offers[n] = all[0]
	s.mu.Unlock()
	return l, all[0], nil
}

// add writes a source with the terms that the person stated.
func (s *newSource) add(r *http.Request) (any, error) {
	var in struct {
		Look        string              `json:"look"`
		Offer       int                 `json:"offer"`
		Job         string              `json:"job"`
		Name        string              `json:"name"`
		Attribution string              `json:"attribution"`
		Captured    string              `json:"captured"`
		Terms       office.TermsAnswers `json:"terms"`
	}
	if err := readJSON(r, &in); err != nil {
		return nil, err
	}
	terms, err := in.Terms.Terms()
	if err != nil {
		return nil, err
	}
	dir := ""
	if in.Job != "" {
		if dir, err = s.d.job(in.Job); err != nil {
			return nil, err
		}
	}
	path, err := s.d.office.SourcesPath(dir)
	if err != nil {
		return nil, err
	}
	_, o, err := s.offer(r.Context(), in.Look, in.Offer)
	if err != nil {
		return nil, err
	}
	src := o.Source
	src.Name, src.Terms = strings.TrimSpace(in.Name), terms
	if text := strings.TrimSpace(in.Attribution); text != "" {
		src.Attribution = text
	}
	src.Captured = strings.TrimSpace(in.Captured)
	if err := source.Append(path, src, o.Notes); err != nil {
		return nil, err
	}
	s.d.publish("sources", url.PathEscape(src.Name))
	return map[string]any{"name": src.Name, "file": path}, nil
}
