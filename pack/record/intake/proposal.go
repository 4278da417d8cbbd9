package intake

import (
	"path/filepath"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/vector"
)

// Sure is how a proposal is known. It is never more than the file says.
type Sure string

// From what is known best to what is not.
const (
	Stated   Sure = "stated"   // in the file
	Answered Sure = "answered" // by the person who adds it
	Fits     Sure = "fits"     // not stated: the job, or what is usual, speaks for it
	Unknown  Sure = "unknown"  // nothing says it
)

// Site is what is known of the job that a file is for.
type Site struct {
	Ground   orb.Bound // round the dig area, in degrees
	Units    string    // "us" or "metric"
	Expected []string  // utilities that were notified, by the APWA code
	Recorded []string  // utilities of which the job has records
	Now      time.Time
}

// Item is one thing that decides how a file is read.
type Item struct {
	Key     string   `json:"key"`
	Name    string   `json:"name"`    // for people
	Value   string   `json:"value"`   // "" = nothing
	Sure    Sure     `json:"sure"`    // how the value is known
	Why     string   `json:"why"`     // from what
	Choices []Choice `json:"choices"` // nil = any text, or nothing to choose
	Must    bool     `json:"must"`    // without an answer the file is not taken in
	Fixed   bool     `json:"fixed"`   // told, not asked

	fits string // why the answer fits, where it is what was proposed
}

// Choice is one answer to an item.
type Choice struct {
	Value string `json:"value"`
	Text  string `json:"text"`
}

// Column is a column of a table, or a field of features.
type Column struct {
	Name    string   `json:"name"`
	Meaning string   `json:"meaning"` // "" = kept as it stands
	Unit    string   `json:"unit"`    // as the name states it; "" = it does not
	Sure    Sure     `json:"sure"`
	Why     string   `json:"why"`
	Samples []string `json:"samples"` // the first cells that are not empty
}

// Row is a row as it was read.
type Row struct {
	Line  int      `json:"line"` // of the file, from 1; of features, their number
	Cells []string `json:"cells"`
}

// Proposal is what can be said of a file before anybody has confirmed it.
type Proposal struct {
	File     string            `json:"file"`
	Format   string            `json:"format"`
	Items    []Item            `json:"items"`
	Columns  []Column          `json:"columns"`
	First    []Row             `json:"first"`
	Rows     int               `json:"rows"`     // all rows or features
	Unread   []record.Finding  `json:"unread"`   // each row that cannot be read, with its line and reason
	Findings []record.Finding  `json:"findings"` // what to know of those that can
	Notes    []string          `json:"notes"`
	Distance Distance          `json:"distance"`
	Problem  string            `json:"problem"` // why it cannot be read as things stand; "" = it can
	Shapes   []geojson.Feature `json:"-"`       // what can be drawn of it now
	Utility  string            `json:"utility"` // "" = not known yet

	meta record.Meta
}

// firstRows is how many rows are shown as they were read.
const firstRows = 8

// Propose looks at a file for a job. Given the answers to what it asked, it
// proposes again: so a terminal and a page ask by the same rules.
func Propose(f vector.File, site Site, answers Answers) Proposal {
	p := &proposer{file: f, site: site, answers: answers}
	p.out = Proposal{File: f.Name, Items: []Item{}, Columns: []Column{}, First: []Row{}, Unread: []record.Finding{}, Findings: []record.Finding{},
		Notes: []string{}}
	p.out.meta = record.Meta{File: folder + CopyName(f)}
	p.out.meta.Columns, p.out.meta.Units = map[string]string{}, map[string]string{}
	p.how()
	if vector.IsTable(f) {
		p.table()
	} else {
		p.features()
	}
	return p.out
}

// folder is where a job keeps the files of its records.
const folder = "overlays/"

// CopyName is the name of the copy that a job keeps. The ending says how it is read.
func CopyName(f vector.File) string {
	base := strings.Map(func(r rune) rune {
		if r < ' ' || strings.ContainsRune(`/\:*?"<>|`, r) {
			return '-'
		}
		return r
	}, f.Name)
	bare, end := strings.TrimSuffix(base, filepath.Ext(base)), strings.ToLower(filepath.Ext(base))
	if vector.IsTable(f) {
		end = ".csv"
	} else if end == ".json" {
		end = ".geojson"
	}
	if bare = strings.Trim(bare, ". "); bare == "" {
		bare = "record"
	}
	if r := []rune(bare); len(r) > 80 {
		bare = string(r[:80])
	}
	return bare + end
}

// Open are the items that must be answered before the file can be taken in.
func (p Proposal) Open() (open []Item) {
	for _, i := range p.Items {
		if i.Must && i.Sure == Unknown {
			open = append(open, i)
		}
	}
	return open
}

// Guessed are the items that no file states and nobody has answered, which fit.
func (p Proposal) Guessed() (all []Item) {
	for _, i := range p.Items {
		if i.Sure == Fits && !i.Fixed {
			all = append(all, i)
		}
	}
	return all
}

// Meta is what the job would state of the file; ok is false while something must
// be answered or nothing of it can be read.
func (p Proposal) Meta() (m record.Meta, ok bool) {
	return p.meta, len(p.Open()) == 0 && p.Problem == ""
}

// Remarks say, by the keys of job.toml, from what a value is known that the file
// does not state.
func (p Proposal) Remarks() map[string]string {
	all := map[string]string{}
	for _, i := range p.Items {
		switch {
		case i.Fixed || i.Value == "":
		case i.Sure == Fits:
			all[i.Key] = i.Why
		case i.fits != "":
			all[i.Key] = i.fits
		}
	}
	return all
}

// proposer makes one proposal.
type proposer struct {
	file    vector.File
	site    Site
	answers Answers
	out     Proposal

	byFields bool // the file has features with fields, not a table with columns
}

// fail says why the file cannot be read as things stand.
func (p *proposer) fail(err error) {
	if p.out.Problem == "" && err != nil {
		p.out.Problem = strings.TrimPrefix(err.Error(), "overlay "+p.out.meta.File+": ")
	}
}

// Overlay is what can be drawn now, as a record of the utility that is known so far;
// "survey" where none is.
func (p Proposal) Overlay() record.Overlay {
	code := p.Utility
	if code == "" {
		code = "survey"
	}
	kind, _ := record.FindUtility(code) // one of the code
	o := record.Overlay{Meta: p.meta, ID: "new", Kind: kind, Features: p.Shapes}
	o.Title = p.File
	o.QualityLevel, _ = record.Level(o.QualityLevel)
	return o
}
