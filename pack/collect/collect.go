// Package collect brings home what a crew added on site: it takes field books of one or
// several laptops into a job. Each book is proved, kept as a copy in JOB/fieldbooks, and
// what all of them hold becomes overlays of the job, JOB/overlays/found-UTILITY.geojson,
// so that the next pack carries it. Photos stay in the books, which are the evidence.
//
// What is kept and written depends on the books alone, not on their order nor on how often
// they come: the overlays are made anew of all books that the job has.
package collect

import (
	"cmp"
	"context"
	"os"
	"path/filepath"
	"slices"

	"groundsheet/pack/fieldbook"
	"groundsheet/pack/job"
	"groundsheet/pack/record"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
)

// Folder is where a job keeps its field books.
const Folder = "fieldbooks"

// Kinds of faults.
var (
	Broken   = fault.Input("broken field book")
	OtherJob = fault.Input("field book of another job")
	Parted   = fault.Input("field books that parted")
)

// Options of [Run]. The zero value is fine.
type Options struct {
	Limit  measure.Distance // a stated error beyond it is doubtful; 0 = 1 ft, the project's own choice
	DryRun bool             // nothing is written
	AnyJob bool             // books that say that they are of another job are taken too
	Doing  string           // what the job's lock says; "" = "groundsheet collect"
}

// Report is what a run found and did. Lists are never null.
type Report struct {
	Job      string         `json:"job"`
	DryRun   bool           `json:"dry_run"`
	Books    []BookLine     `json:"books"` // those that were named, in their order
	Marks    int            `json:"marks"` // of all books that the job has, without those that are struck
	Struck   int            `json:"struck"`
	Kinds    map[string]int `json:"kinds"` // how many of each kind, struck ones left out
	Changes  []Change       `json:"changes"`
	Overlays []OverlayLine  `json:"overlays"`
	Doubts   []Doubt        `json:"doubts"` // of what is new or changed
	Written  bool           `json:"written"`
}

// BookLine is a book that was named.
type BookLine struct {
	File    string   `json:"file"`
	Kept    string   `json:"kept"`  // its copy, by its name in the job folder
	State   string   `json:"state"` // "new", "longer", "same", "shorter": beside the copy that the job had
	Entries int      `json:"entries"`
	Photos  int      `json:"photos"`
	Pending int      `json:"photos_pending"` // begun, and not all there
	Missing int      `json:"photos_missing"` // named by marks, and not there: perhaps still on a phone
	Last    string   `json:"last_hash"`      // of its chain
	Notes   []string `json:"notes"`
}

// States of a book and of an overlay beside what the job had.
const (
	New     = "new"
	Longer  = "longer"
	Same    = "same"
	Shorter = "shorter" // an earlier copy of what the job has
	Changed = "changed"
	Gone    = "gone"
)

// OverlayLine is an overlay that is made of marks.
type OverlayLine struct {
	File     string `json:"file"`
	Utility  string `json:"utility"`
	Features int    `json:"features"`
	State    string `json:"state"` // [New], [Changed], [Same], [Gone]
}

// Run takes books into the job in dir. All of it is done, or nothing: a book that is
// broken, that parted from the copy that the job keeps, or that is of another job refuses
// the run. Errors are of the kinds [Broken], [Parted], [OtherJob], [fieldbook.NotBook],
// [job.Locked], or of the job.
func Run(ctx context.Context, dir string, books []string, o Options) (r Report, err error) {
	o.Limit = cmp.Or(o.Limit, mostError)
	c := &collecting{ctx: ctx, dir: dir, options: o, byID: map[string]*book{}}
	defer c.close()
	prepare := func(text []byte) (job.Rewriting, error) { return c.run(text, books) }
	if o.DryRun {
		var text []byte
		if text, err = os.ReadFile(filepath.Join(dir, job.FileName)); err == nil {
			_, err = prepare(text)
		} else {
			_, err = job.Read(dir) // says it in words
		}
	} else {
		err = job.RewriteFiles(dir, cmp.Or(o.Doing, "groundsheet collect"), prepare)
	}
	c.report.Written = err == nil && !o.DryRun && c.changes
	return c.report, err
}

// collecting is one run.
type collecting struct {
	ctx     context.Context
	dir     string
	options Options
	job     job.Job
	temp    string           // where copies are proved
	made    bool             // the folder of books was made by this run
	byID    map[string]*book // the longest copy of each book
	report  Report
	changes bool // something is to be written
}

func (c *collecting) run(text []byte, books []string) (out job.Rewriting, err error) {
	if c.job, err = job.Parse(text, c.dir); err != nil {
		return out, err
	}
	own := c.job // without what is written anew, which may be broken or gone
	own.Overlays = slices.DeleteFunc(slices.Clone(own.Overlays), func(m record.Meta) bool { return IsFound(m.File) })
	in, err := own.ReadInputs()
	if err != nil {
		return out, err
	}
	c.report = Report{Job: c.job.Name, DryRun: c.options.DryRun, Books: []BookLine{}, Kinds: map[string]int{},
		Changes: []Change{}, Overlays: []OverlayLine{}, Doubts: []Doubt{}}
	if err = c.readKept(); err != nil {
		return out, err
	}
	before := c.fold()
	if err = c.takeAll(books); err != nil {
		return out, err
	}
	now := c.fold()
	c.count(now)
	c.report.Changes = changesBetween(before, now)
	names, err := c.readNames(before)
	if err != nil {
		return out, err
	}
	found, err := overlaysOf(now, names)
	if err != nil {
		return out, err
	}
	frames := map[string]string{}
	for _, o := range fieldbook.Overlays(before) {
		frames[fileOf(o.Kind.Code)] = frameOf(o.Features)
	}
	if out, err = c.rewriting(found, frames); err != nil {
		return out, err
	}
	if err = c.writeNames(&out, names); err != nil {
		return out, err
	}
	c.report.Doubts = c.doubts(in, found, now)
	if c.options.DryRun {
		return out, nil
	}
	return out, c.keep()
}

func (c *collecting) count(marks []fieldbook.Mark) {
	for _, m := range marks {
		if m.Struck {
			c.report.Struck++
			continue
		}
		c.report.Marks++
		c.report.Kinds[m.Kind()]++
	}
}
