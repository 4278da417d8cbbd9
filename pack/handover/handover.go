package handover

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/pack"
	"groundsheet/pack/collect"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
)

// Form is a form that finds are written in.
type Form string

// The forms.
const (
	GeoJSON    Form = "geojson"
	GeoPackage Form = "gpkg"
	KML        Form = "kml"
	KMZ        Form = "kmz"
	GPX        Form = "gpx"
	Shapefile  Form = "shp"
	CSV        Form = "csv"
	DXF        Form = "dxf"
	Report     Form = "report"
)

// Forms lists the forms.
func Forms() []Form {
	return []Form{GeoJSON, GeoPackage, KML, KMZ, GPX, Shapefile, CSV, DXF, Report}
}

// Options of a hand-over.
type Options struct {
	Forms       []Form           // at least one
	Ground      Ground           // of the forms that have a choice
	Area        orb.MultiPolygon // only what touches it; nil = everywhere
	AreaName    string           // of the area, for people
	Utilities   []string         // only these, by the color code; nil = all
	WithRecords bool             // what was recorded before the visit goes along, apart
	Tiles       bool             // the GeoPackage holds the pack's base map too
	Pack        *pack.Pack       // of the job; nil = none: then there are no records, tiles and maps
	Name        string           // of the job
	Number      string           // of the job
	Units       string           // "us" or "metric"
	Runs        collect.Names    // of the lines that readings belong to; without a name they have their IDs
	Invented    bool             // it is for practice
}

// Summary is a hand-over in numbers.
type Summary struct {
	Folder    string      `json:"folder"`
	Files     []File      `json:"files"`
	Found     int         `json:"found"`
	WorkedOut int         `json:"worked_out"` // lines through readings, of Found
	NoPlace   int         `json:"no_place"`   // of Found
	Versions  int         `json:"versions"`   // of Found: marks of which other versions stand beside this one
	Records   int         `json:"records"`
	Struck    int         `json:"struck"`
	LeftOut   int         `json:"left_out"` // by area and utilities
	NoPhoto   int         `json:"photos_missing"`
	Whole     bool        `json:"books_whole"` // the chain of every book
	Ground    string      `json:"coordinates"`
	Books     []BookState `json:"-"`
}

// File is one file of a hand-over.
type File struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
}

func (o Options) check() error {
	if len(o.Forms) == 0 {
		return misuse("no form is asked for", "say --as, such as --as geojson --as report")
	}
	for _, f := range o.Forms {
		if !slices.Contains(Forms(), f) {
			return misuse(fmt.Sprintf("%.40q is no form", string(f)), "take "+formNames())
		}
	}
	for _, u := range o.Utilities {
		if _, err := record.FindUtility(u); err != nil {
			return misuse(err.Error(), "name utilities by the color code")
		}
	}
	switch {
	case o.Tiles && !slices.Contains(o.Forms, GeoPackage):
		return misuse("the base map goes into a GeoPackage alone", "say --as gpkg too, or leave --tiles out")
	case o.Pack == nil && o.needsPack():
		return misuse("the job has no pack, which records, base map and report are taken from", "pack the job, or ask for other forms")
	case o.Tiles && o.Pack.Info.About.Source.CopiesOnPhones != "allowed":
		return misuse("the terms of the base map do not say that others may keep a copy of it",
			`leave --tiles out; or ask the provider, and state copies_on_phones = "allowed" in its terms`)
	}
	return nil
}

func formNames() string {
	var all []string
	for _, f := range Forms() {
		all = append(all, string(f))
	}
	return strings.Join(all, ", ")
}

// Write hands over what the books hold, into a folder, which it makes or, where it holds
// an earlier hand-over alone, replaces. What is written is whole or not there. The error
// is a fault of the kind [Misuse], or of reading and writing.
func Write(ctx context.Context, books []string, folder string, o Options) (s Summary, err error) {
	if err := o.check(); err != nil {
		return s, err
	}
	m, err := gather(ctx, books)
	if err != nil {
		return s, err
	}
	defer func() { err = errors.Join(err, m.close()) }()
	if err := m.narrow(ctx, o); err != nil {
		return s, err
	}
	if err := m.placeable(o); err != nil {
		return s, err
	}
	w, err := begin(ctx, folder)
	if err != nil {
		return s, err
	}
	defer w.abandon()
	s = m.summary(o)
	if err := w.forms(ctx, m, o, s); err != nil {
		return s, err
	}
	s.Folder = folder
	s.Files, err = w.finish(ctx, readFirst(m, o, s, w))
	return s, err
}

// narrow adds what is worked out and the records, and leaves out what was not asked for.
func (m *material) narrow(ctx context.Context, o Options) (err error) {
	m.found = append(m.found, workOut(m.marks, m.found, o.Units)...)
	for _, f := range m.found {
		if name := o.Runs[f.Utility][f.text("run")]; name != "" {
			f.set("line", name)
		}
	}
	if o.WithRecords {
		if m.records, err = recordsOf(ctx, o.Pack); err != nil {
			return err
		}
	}
	touches := derive.Touching(o.Area)
	keep := func(f Find) bool {
		if o.Utilities != nil && !slices.Contains(o.Utilities, f.Utility) {
			return false
		}
		return o.Area == nil || f.Geometry == nil || touches(f.Geometry)
	}
	kept := map[string]bool{}
	m.found = slices.DeleteFunc(m.found, func(f Find) bool {
		if keep(f) {
			kept[f.ID] = true
			return false
		}
		m.cut = append(m.cut, f)
		return true
	})
	m.records = slices.DeleteFunc(m.records, func(f Find) bool { return !keep(f) })
	for _, mark := range m.all {
		for _, v := range mark.Rivals {
			if mark.Struck || kept[mark.ID] {
				m.rivals = append(m.rivals, rival(mark, v))
			}
		}
	}
	return nil
}

// placeable refuses a system that is not for the place, before anything is written.
func (m *material) placeable(o Options) error {
	for _, s := range m.sets() {
		grounds := []Ground{o.Ground}
		if slices.Contains(o.Forms, DXF) {
			g, err := o.Ground.drawing(s.finds)
			if err != nil {
				return err
			}
			grounds = append(grounds, g)
		}
		for _, g := range grounds {
			for _, f := range s.finds {
				if _, err := g.place(f); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func (m *material) summary(o Options) Summary {
	s := Summary{Found: len(m.found), Records: len(m.records), Struck: m.struck, LeftOut: len(m.cut), NoPhoto: m.noPhoto,
		Whole: true, Ground: o.Ground.Text(), Books: m.books, Files: []File{}}
	for _, b := range m.books {
		s.Whole = s.Whole && b.Verified.Whole()
	}
	for _, f := range m.found {
		switch {
		case f.Source == WorkedOut:
			s.WorkedOut++
		case f.Geometry == nil:
			s.NoPlace++
		}
		if f.Values["versions"] != nil {
			s.Versions++
		}
	}
	return s
}

// changed is the time that the files state: when the newest entry came to a laptop.
func (m *material) changed() time.Time {
	if m.newest.IsZero() {
		return time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC) // as early as a zip can state
	}
	return m.newest.UTC().Truncate(time.Second)
}

// on gives finds with what their coordinates are on.
func on(g Ground, finds []Find) []Find {
	out := make([]Find, len(finds))
	for i, f := range finds {
		values := make(map[string]any, len(f.Values)+1)
		for k, v := range f.Values {
			values[k] = v
		}
		values["datum"] = g.datum(f)
		f.Values = values
		out[i] = f
	}
	return out
}
