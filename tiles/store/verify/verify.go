// Package verify proves an office store: the engine's own files, the hash and
// every pixel of each image, and that records and images belong together. What
// it finds is data; an error means that it could not look. It mends by taking
// out what is bad: that is fetched again when it is wanted.
package verify

import (
	"context"
	"errors"
	"runtime"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// Kinds of findings.
const (
	File     = "file"     // the engine's own file is damaged
	Foreign  = "foreign"  // a file that is no shelf, or a newer program's
	Lost     = "lost"     // a record without its image
	Changed  = "changed"  // an image that is not what was kept: its SHA-256 differs
	Broken   = "broken"   // an image that does not decode
	Mistaken = "mistaken" // a record that says another kind or length than the image has
	Orphans  = "orphans"  // images that no tile uses
)

// Options of a proof. The zero value looks and changes nothing.
type Options struct {
	Mend     bool
	Workers  int                                   // that decode; 0 = one a processor
	Now      func() time.Time                      // nil = time.Now
	Progress func(shelf string, done, total int64) // tiles of a shelf; may be nil
}

// Flaw is one thing found.
type Flaw struct {
	Kind   string    `json:"kind"`
	Tile   *tiles.ID `json:"tile"` // nil when it is about the shelf
	Detail string    `json:"detail"`
	Mended bool      `json:"mended"`
}

// MostListed is how many findings of a kind are listed for a shelf.
const MostListed = 100

// ShelfReport is what was found on one shelf.
type ShelfReport struct {
	Name  string `json:"shelf"`
	Tiles int64  `json:"tiles"` // images in place that were proved, good or bad
	Holes int64  `json:"holes"`
	// records, holes too, that say they were fetched later than it is now: no flaw, a clock was or is wrong
	Ahead    int64          `json:"ahead"`
	Counts   map[string]int `json:"counts"`    // of all findings
	Mended   int            `json:"mended"`    // of all findings
	Aside    *string        `json:"set_aside"` // where the damaged file stands now; nil when it was not set aside
	Saved    int64          `json:"saved"`     // records that were saved from it
	Findings []Flaw         `json:"findings"`  // at most [MostListed] of each kind
}

// Flaws is the number of findings that were not mended.
func (s ShelfReport) Flaws() int {
	n := -s.Mended
	for _, c := range s.Counts {
		n += c
	}
	return n
}

// Register is the name under which the register of jobs is reported; no shelf
// can have it.
const Register = "jobs.register"

// quarantiner is a store of files, which can move a damaged one away and save
// from it what can be read; the register of jobs is such a file too.
type quarantiner interface {
	Quarantine(ctx context.Context, shelf string) (moved string, saved int64, err error)
	RegisterSound(ctx context.Context) (flaws []string, err error)
	QuarantineRegister(ctx context.Context) (moved string, saved int64, err error)
}

// Run proves every shelf, and the register of jobs when something is wrong with
// it: it is reported as a shelf named [Register]. A shelf that is damaged does not keep the others from
// being looked at.
func Run(ctx context.Context, st store.Store, o Options) ([]ShelfReport, error) {
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	names, err := st.Shelves(ctx)
	if err != nil {
		return nil, err
	}
	var out []ShelfReport
	if r, is := st.(quarantiner); is {
		s, err := register(ctx, r, o)
		if err != nil {
			return nil, err
		}
		if len(s.Findings) > 0 {
			out = append(out, s)
		}
	}
	for _, name := range names {
		s, err := one(ctx, st, name, o)
		if err != nil {
			return out, err
		}
		out = append(out, s)
	}
	return out, nil
}

func one(ctx context.Context, st store.Store, name string, o Options) (ShelfReport, error) {
	p := &prover{o: o, report: ShelfReport{Name: name, Counts: map[string]int{}, Findings: []Flaw{}}}
	var err error
	if p.shelf, err = st.Shelf(name); err != nil {
		return p.report, err
	}
	sound, err := p.file(ctx)
	if err != nil {
		return p.report, err
	}
	files, can := st.(quarantiner)
	switch {
	case sound:
	case p.report.Counts[File] == 0, can && !o.Mend:
		return p.report, nil
	case can:
		if err := p.setAside(files.Quarantine(ctx, name)); err != nil {
			return p.report, err
		}
	}
	if err := errors.Join(p.images(ctx), p.orphans(ctx)); err != nil {
		return p.report, err
	}
	if !sound && !can && o.Mend { // what was taken out may have been all that was wrong
		if flaws, err := p.shelf.Sound(ctx); err == nil && len(flaws) == 0 {
			p.mended(File)
		}
	}
	return p.report, nil
}

func register(ctx context.Context, r quarantiner, o Options) (ShelfReport, error) {
	p := &prover{o: o, report: ShelfReport{Name: Register, Counts: map[string]int{}, Findings: []Flaw{}}}
	sound, err := p.took(r.RegisterSound(ctx))
	if err != nil || sound || !o.Mend || p.report.Counts[File] == 0 {
		return p.report, err
	}
	return p.report, p.setAside(r.QuarantineRegister(ctx))
}

// prover proves one shelf.
type prover struct {
	o      Options
	shelf  store.Shelf
	report ShelfReport
}

func (p *prover) add(f Flaw) {
	p.report.Counts[f.Kind]++
	if f.Mended {
		p.report.Mended++
	}
	if p.report.Counts[f.Kind] <= MostListed {
		p.report.Findings = append(p.report.Findings, f)
	}
}

// setAside notes where a damaged file stands now.
func (p *prover) setAside(to string, saved int64, err error) error {
	if to != "" {
		p.report.Aside, p.report.Saved = &to, saved
	}
	if err == nil {
		p.mended(File)
	}
	return err
}

// mended marks all findings of a kind.
func (p *prover) mended(kind string) {
	p.report.Mended += p.report.Counts[kind]
	for i := range p.report.Findings {
		if p.report.Findings[i].Kind == kind {
			p.report.Findings[i].Mended = true
		}
	}
}

// file has the engine look; false means that looking further is no use.
func (p *prover) file(ctx context.Context) (bool, error) { return p.took(p.shelf.Sound(ctx)) }

// took notes what the engine found.
func (p *prover) took(flaws []string, err error) (bool, error) {
	switch {
	case err == nil:
	case errors.Is(err, store.Damaged):
		flaws = append(flaws, store.DamageOf(err))
	case errors.Is(err, store.Newer), errors.Is(err, store.Foreign):
		p.add(Flaw{Kind: Foreign, Detail: err.Error()})
		return false, nil
	default:
		return false, err
	}
	for _, f := range flaws {
		p.add(Flaw{Kind: File, Detail: f})
	}
	return len(flaws) == 0, nil
}

func (p *prover) orphans(ctx context.Context) error {
	n, err := p.shelf.Orphans(ctx, p.o.Mend)
	if text := store.DamageOf(err); text != "" {
		p.add(Flaw{Kind: File, Detail: text})
		return nil
	}
	if err == nil && n > 0 {
		p.add(Flaw{Kind: Orphans, Detail: orphansText(n), Mended: p.o.Mend})
	}
	return err
}
