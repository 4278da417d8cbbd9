// Package prune keeps an office store small: it plans which tiles may go, and
// takes them out. Planning changes nothing. What an open job wants stays,
// unless told otherwise; what is to be kept until a day always stays.
//
// A plan is a rule, not a list, so it takes no more memory for a large store:
// the shelves are walked twice instead.
package prune

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// Options say which tiles may go. A tile that meets any of Closed and OlderThan
// goes; then DownTo takes the least recently packed until the store is small
// enough.
type Options struct {
	Closed    bool              // tiles that jobs wanted, all of them closed now
	OlderThan time.Duration     // fetched or confirmed longer ago; 0 = age does not count
	DownTo    int64             // bytes the shelves may take together; 0 = as large as they are
	OpenToo   bool              // also tiles that open jobs want
	Take      func(string) bool // which shelves are looked at, by name; nil = all
	Now       func() time.Time  // nil = time.Now
}

// Plan is what would go.
type Plan struct {
	Shelves []ShelfReport
	Kept    int64     // tiles that would go, but an open job wants them
	Until   int64     // tiles that would go, but a job wants them that is to be kept until a day; not in Kept
	KeptFor []KeptFor // those jobs; a tile that two want is counted with both
	Before  int64     // bytes of the shelves on the disk
	Freed   int64     // bytes the disk gets back: an estimate, by the share of the images that no tile uses any more then
	Digest  string    // SHA-256 of the tiles that go, in hex: two plans with the same one take the same
	Met     bool      // with Freed given back the shelves are within DownTo; true without one

	st   store.Store
	o    Options
	rule rule
}

// ShelfReport is what would go of one shelf.
type ShelfReport struct {
	Name  string `json:"shelf"`
	Tiles int64  `json:"tiles"`                // images in place that go
	Holes int64  `json:"holes"`                // that go
	Stay  int64  `json:"stay"`                 // images and holes that stay
	Freed int64  `json:"freed_bytes_estimate"` // the same estimate
}

// KeptFor is a job that keeps tiles from going: it is open, or to be kept until a day.
type KeptFor struct {
	Key    string `json:"-"`
	Name   string `json:"name"`
	Number string `json:"number"`
	Tiles  int64  `json:"tiles"`
	Until  string `json:"keep_until"` // the last day; "" = it is only open
	Reason string `json:"keep_reason"`
}

// Done is what went.
type Done struct {
	Tiles  int64 // images in place
	Holes  int64
	Freed  int64 // bytes the disk got back
	Before int64 // bytes of the shelves on the disk
	After  int64
}

// New plans what would go. It changes nothing.
func New(ctx context.Context, st store.Store, o Options) (Plan, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	p := Plan{st: st, o: o}
	jobs, err := st.Jobs(ctx)
	if err != nil {
		return p, err
	}
	p.rule = rule{o: o, claims: newClaims(jobs, o.Now())}
	if o.OlderThan > 0 {
		p.rule.old = o.Now().Add(-o.OlderThan)
	}
	shelves, err := p.measure(ctx)
	if err != nil {
		return p, err
	}
	p.rule.choose(shelves, p.Before)
	gone := sha256.New()
	for _, s := range shelves {
		line, err := p.count(ctx, s, gone)
		if err != nil {
			return p, err
		}
		p.Shelves = append(p.Shelves, line)
		p.Freed += line.Freed
	}
	p.Digest = hex.EncodeToString(gone.Sum(nil))
	p.KeptFor = p.rule.claims.keptFor()
	p.Met = o.DownTo == 0 || p.Before-p.Freed <= o.DownTo
	return p, nil
}

// measure opens the shelves that are looked at, and sums up what they hold.
func (p *Plan) measure(ctx context.Context) (shelves []*shelf, err error) {
	names, err := p.st.Shelves(ctx)
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		if p.o.Take != nil && !p.o.Take(name) {
			continue
		}
		opened, err := p.st.Shelf(name)
		if err != nil {
			return nil, err
		}
		s := &shelf{Shelf: opened}
		if s.size, err = s.Size(ctx); err != nil {
			return nil, err
		}
		if err := s.measure(ctx, &p.rule); err != nil {
			return nil, err
		}
		p.Before += s.size.Bytes
		shelves = append(shelves, s)
	}
	return shelves, nil
}

// count walks a shelf and counts what the rule takes and what jobs keep; what goes is
// written to gone.
func (p *Plan) count(ctx context.Context, s *shelf, gone hash.Hash) (ShelfReport, error) {
	line := ShelfReport{Name: s.Name(), Freed: p.rule.freed(s)}
	for h, err := range s.All(ctx, false) {
		if err != nil {
			return line, err
		}
		j := p.rule.judge(s.Name(), h)
		if p.rule.takes(j) {
			fmt.Fprintf(gone, "%s %v %x\n", s.Name(), h.ID, h.Hash)
		}
		switch {
		case p.rule.takes(j) && h.Hole:
			line.Holes++
		case p.rule.takes(j):
			line.Tiles++
		default:
			line.Stay++
			switch {
			case !p.rule.wouldTake(j):
				continue
			case j.until:
				p.Until++
			default:
				p.Kept++
			}
			p.rule.claims.countKept(s.Name(), h.ID)
		}
	}
	return line, nil
}

// dropBatch is how many tiles go in one write.
const dropBatch = 2000

// Apply takes out what the plan says and gives the room back to the disk. The
// register is read again first: what a job was packed with meanwhile stays.
func (p Plan) Apply(ctx context.Context) (Done, error) {
	done := Done{Before: p.Before}
	jobs, err := p.st.Jobs(ctx)
	if err != nil {
		return done, err
	}
	p.rule.claims = newClaims(jobs, p.o.Now())
	for _, line := range p.Shelves {
		shelf, err := p.st.Shelf(line.Name)
		if err != nil {
			return done, err
		}
		if line.Tiles+line.Holes > 0 {
			if err := p.empty(ctx, shelf, &done); err != nil {
				return done, err
			}
		}
		freed, err := shelf.GiveBack(ctx)
		done.Freed += freed
		if err != nil {
			return done, err
		}
	}
	for _, line := range p.Shelves { // when all is given back: shelves of one database share its tables
		shelf, err := p.st.Shelf(line.Name)
		if err != nil {
			return done, err
		}
		size, err := shelf.Size(ctx)
		if err != nil {
			return done, err
		}
		done.After += size.Bytes
	}
	return done, nil
}

// empty drops what the rule takes of one shelf.
func (p Plan) empty(ctx context.Context, shelf store.Shelf, done *Done) error {
	var ids []tiles.ID
	var gone Done
	flush := func() error {
		if err := shelf.Drop(ctx, ids); err != nil {
			return err
		}
		done.Tiles, done.Holes = done.Tiles+gone.Tiles, done.Holes+gone.Holes
		ids, gone = ids[:0], Done{}
		return nil
	}
	for r, err := range shelf.All(ctx, false) {
		if err != nil {
			return err
		}
		if !p.rule.takes(p.rule.judge(shelf.Name(), r)) {
			continue
		}
		ids = append(ids, r.ID)
		if r.Hole {
			gone.Holes++
		} else {
			gone.Tiles++
		}
		if len(ids) == dropBatch {
			if err := flush(); err != nil {
				return err
			}
		}
	}
	return flush()
}
