// Package check proves a pack: every wanted tile is there, whole, of the right
// kind and size and as it was packed, or a named hole. Findings are data; an error
// means that the check could not run.
package check

import (
	"cmp"
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"slices"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/fault"
)

// Severity of a finding. A pack with a fault is not fit.
const (
	Fault   = "fault"
	Warning = "warning"
	Note    = "note"
)

// The two verdicts.
const (
	Fit    = "fit"
	NotFit = "not fit"
)

// Finding is one result of a check. Tile is nil when it is not of one tile; Bounds is
// nil when it is of no place, such as one of the whole pack.
type Finding struct {
	Kind     string     `json:"kind"`
	Severity string     `json:"severity"`
	Tile     *tiles.ID  `json:"tile"`
	Bounds   *tiles.Box `json:"bounds"` // what to look at; a point is a box without size
	Detail   string     `json:"detail"`
}

// Report is the result of a check. Findings holds at most [MaxListed] of each
// kind; Counts has them all.
type Report struct {
	File        string         `json:"file"`
	Verdict     string         `json:"verdict"`
	Seal        string         `json:"seal"` // the beginning of it, as people compare it; "" for a file without
	TilesWanted int64          `json:"tiles_wanted"`
	TilesHeld   int64          `json:"tiles_held"`
	Holes       int64          `json:"holes"`
	Bytes       int64          `json:"bytes"`
	Counts      map[string]int `json:"counts"`
	Findings    []Finding      `json:"findings"`
	Faults      int            `json:"faults"` // findings that make it not fit, the unlisted ones too
	// every image was decoded; false = those decoded when they were packed were not
	Deep bool `json:"deep"`
}

// MaxListed is how many findings of one kind are listed.
const MaxListed = 100

// Options of a check. The zero value checks the pack against what it says it
// wants.
type Options struct {
	Against  *Expectation     // the job as it is now; nil = what the pack says of itself
	Now      func() time.Time // nil = time.Now
	Progress func(done, total int64)
	Key      ed25519.PublicKey // who must have signed the pack; nil = nobody
	// decode every image; a file that does not prove that its images were decoded is always checked so
	Deep bool
	// one tile at a time, with a rest as long after each: for a computer that serves phones meanwhile
	Gently bool
}

// Expectation is what a job wants now, to compare a pack with.
type Expectation struct {
	Covers []tiles.Cover
	About  pack.About        // all that the job says is compared; times and counts are not
	Seals  map[string]string // of the dig area and each overlay, as a pack would hold them
}

// Run checks a file. A file that cannot be opened as a pack is an error of
// kind [pack.NotPack].
func Run(ctx context.Context, path string, o Options) (Report, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	p, err := pack.Open(ctx, path)
	if err != nil {
		return Report{}, err
	}
	c := &checker{pack: p, opts: o, repeats: newRepeats(p),
		report: Report{File: path, Counts: map[string]int{}, Findings: []Finding{}}}
	c.report.Seal = p.Info.Seals.Name()
	c.report.Deep = o.Deep || !p.Info.Own || p.Info.Seals.Seal == "" || !p.Info.About.Decoded
	err = c.run(ctx)
	if err = errors.Join(err, p.Close()); err != nil {
		return Report{}, err
	}
	return c.finish(), nil
}

type checker struct {
	pack   *pack.Pack
	opts   Options
	covers []tiles.Cover
	report Report

	repeats *repeats
}

func (c *checker) run(ctx context.Context) error {
	sound, err := c.file(ctx)
	if err != nil || !sound {
		return err
	}
	for _, step := range []func(context.Context) error{c.wanted, c.tiles, c.strays, c.noImagery, c.seals, c.against, c.stated, c.derived} {
		if err := step(ctx); err != nil {
			return err
		}
	}
	return nil
}

func (c *checker) add(kind, severity string, t *tiles.ID, detail string) {
	var at *tiles.Box
	if t != nil && t.Valid() {
		b := t.Bounds()
		at = &b
	}
	c.put(Finding{Kind: kind, Severity: severity, Tile: t, Bounds: at, Detail: detail})
}

// addAt adds a finding of a place; nil = of none.
func (c *checker) addAt(kind, severity string, at *tiles.Box, detail string) {
	c.put(Finding{Kind: kind, Severity: severity, Bounds: at, Detail: detail})
}

func (c *checker) put(f Finding) {
	c.report.Counts[f.Kind]++
	if f.Severity == Fault {
		c.report.Verdict = NotFit
		c.report.Faults++
	}
	if c.report.Counts[f.Kind] > MaxListed {
		return
	}
	c.report.Findings = append(c.report.Findings, f)
}

// damaged turns an error of a part that cannot be read into a finding, and returns
// any other error.
func (c *checker) damaged(err error) error {
	var broken *fault.Fault
	if !errors.As(err, &broken) || broken.Kind != pack.NotPack {
		return err
	}
	c.add("damaged", Fault, nil, broken.Detail)
	return nil
}

// quoted puts the title of a record in quotation marks.
func quoted(s string) string { return fmt.Sprintf("%q", s) }

var weight = map[string]int{Fault: 0, Warning: 1, Note: 2}

// finish sorts the findings: faults first, then in tile order.
func (c *checker) finish() Report {
	if c.report.Verdict == "" {
		c.report.Verdict = Fit
	}
	slices.SortStableFunc(c.report.Findings, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(weight[a.Severity], weight[b.Severity]), cmp.Compare(a.Kind, b.Kind),
			comparePlace(a.Tile, b.Tile))
	})
	return c.report
}

func comparePlace(a, b *tiles.ID) int {
	if a == nil || b == nil {
		return 0
	}
	return tiles.Compare(*a, *b)
}
