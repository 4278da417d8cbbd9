// Package job reads job.toml, the description of one site to prepare, and the
// files it names, and makes new job folders.
package job

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/pack/record/instrument"
	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
)

// FileName is the name of the file that makes a folder a job folder.
const FileName = "job.toml"

// Job is what to prepare for one site. Read it with [Read].
type Job struct {
	Dir        string             `toml:"-"` // the job folder; files named in the job are relative to it
	Name       string             `toml:"name"`
	Number     string             `toml:"number"`
	Units      string             `toml:"units"`    // "us" or "metric"; how things are shown, never how they are kept
	OneCall    string             `toml:"one_call"` // the number to call for marks; "" when not stated
	Invented   bool               `toml:"invented"` // a practice job; every screen says so
	Area       []string           `toml:"area"`
	Around     []Around           `toml:"-"`
	Along      []Along            `toml:"-"`
	Within     []Within           `toml:"-"`
	Boxes      []Box              `toml:"-"`
	Margin     measure.Distance   `toml:"-"` // on the ground, round everything
	FitIn      measure.Size       `toml:"-"` // what the pack may weigh; 0 = no limit stated
	Bases      []Base             `toml:"-"`
	Tolerance  *pack.Tolerance    `toml:"-"`
	Ticket     *pack.Ticket       `toml:"-"`
	Expected   []string           `toml:"expected"` // utilities that were notified, by the APWA code
	Overlays   []record.Meta      `toml:"-"`
	Instrument *instrument.Format `toml:"instrument"` // how the lines of the crew's instrument are read; nil = not stated
	Rules      []derive.Rule      `toml:"-"`          // of clearance between utilities, in the order of the job
	OlderThan  measure.Age        `toml:"-"`          // check names records older than this; 0 = none
	// the largest distance between readings across which a depth is interpolated; 0 = 15 m
	DepthGap   measure.Distance `toml:"-"`
	DepthSlope float64          `toml:"depth_slope"` // rise over run beyond which neighboring depths disagree; 0 = 0.2
	// what a reading is good for; the base map must be sharp enough to place it. 0 = 6 in
	Reading measure.Distance `toml:"-"`

	unsaved map[string][]byte // files of the job that are not written yet, by name
}

// Around is a circle on the ground.
type Around struct {
	Lat, Lon float64 // degrees
	Radius   measure.Distance
}

// Along is a route with a width: half of it on each side of the line.
type Along struct {
	File  string
	Width measure.Distance
	record.Form
}

// Box is a box between two opposite corners, in degrees.
type Box struct{ FromLat, FromLon, ToLat, ToLon float64 }

// Base is one base map layer of the job.
type Base struct {
	Source    string           `toml:"source"`
	Zooms     tiles.Zooms      `toml:"-"`
	Auto      bool             `toml:"-"`            // no zooms are given: the plan chooses them
	Magnified bool             `toml:"magnified"`    // also fetch zooms that only magnify the source's picture
	DeepAlong measure.Distance `toml:"-"`            // from DeepFrom on, only this far round the overlays; 0 = everywhere
	DeepFrom  int              `toml:"deep_from"`    // 0 = the deepest zoom alone
	Quality   int              `toml:"jpeg_quality"` // JPEG quality to pack with, 30 to 95; 0 = as the source sent it
}

// Invalid is the kind of fault of a job that cannot be used as it is written.
var Invalid = fault.Input("invalid job")

func invalid(file, detail, remedy string) error {
	return &fault.Fault{Kind: Invalid, Place: file, Detail: detail, Remedy: remedy}
}

// Check says what is wrong in the job's own values, or nil. It opens no file.
func (j Job) Check() error {
	bad := func(detail, remedy string, args ...any) error {
		return invalid(filepath.Join(j.Dir, FileName), fmt.Sprintf(detail, args...), remedy)
	}
	if j.Ticket != nil && j.Ticket.ValidUntil != "" && !isDay(j.Ticket.ValidUntil) {
		return inTable("ticket", -1, bad("ticket valid_until = %q", "write the day as YYYY-MM-DD", j.Ticket.ValidUntil))
	}
	switch {
	case strings.TrimSpace(j.Name) == "":
		return bad("name is empty", "give the job a name")
	case len(j.Area)+len(j.Within)+len(j.Around)+len(j.Along)+len(j.Boxes) == 0:
		return bad("no area", `give area = ["dig-area.geojson"], or a [[within]], [[around]], [[along]] or [[box]] table`)
	case !slices.Contains([]string{"us", "metric"}, j.Units):
		return bad("units = %q", `write "us" or "metric"`, j.Units)
	case j.Margin > maxMargin:
		return bad("margin is %s", "a margin is at most 10 km; is the unit right?", j.Margin)
	case len(j.Bases) == 0:
		return bad("no base map", "add a [[base]] table with source and zooms")
	case j.DepthGap > maxDepthGap:
		return bad("depth_gap is %s", "a depth is worked out over 100 m at most; is the unit right?", j.DepthGap)
	case !(j.DepthSlope >= 0 && j.DepthSlope <= 10):
		return bad("depth_slope is %v", "write rise over run, such as 0.2", j.DepthSlope)
	}
	for i, c := range j.Around {
		if c.Radius <= 0 {
			return inTable("around", i, bad("an [[around]] has no radius", `give radius = "100ft"`))
		}
	}
	for i, w := range j.Within {
		if w.File == "" {
			return inTable("within", i, bad("a [[within]] has no file", `give file = "dig-area.dxf"`))
		}
	}
	for i, r := range j.Along {
		if r.Width <= 0 {
			return inTable("along", i, bad("the [[along]] of %q has no width", `give width = "60ft"`, r.File))
		}
	}
	for i, b := range j.Bases {
		if err := b.check(j); err != nil {
			return inTable("base", i, bad("base %q: %v", "fix its [[base]] table", b.Source, err))
		}
	}
	for _, code := range j.Expected {
		if _, err := record.FindUtility(code); err != nil {
			return bad("expected: %v", "list the utilities that were notified", err)
		}
	}
	for i, r := range j.Rules {
		if err := r.Check(); err != nil {
			return inTable("rule", i, bad("[[rule]] number %d: %v", "fix its table", i+1, err))
		}
	}
	return j.checkOverlays(bad)
}

// Limits in meters.
const (
	maxMargin   = 10_000
	maxDepthGap = 100
)

func (b Base) check(j Job) error {
	if !b.Auto {
		if err := b.Zooms.Check(); err != nil {
			return err
		}
	}
	switch {
	case b.Source == "":
		return fmt.Errorf("it names no source")
	case b.DeepAlong > 0 && len(j.Overlays) == 0:
		return fmt.Errorf("deep_along is given, but the job has no overlay to go along")
	case b.DeepFrom != 0 && b.DeepAlong == 0:
		return fmt.Errorf("deep_from is given without deep_along")
	case b.DeepAlong > maxMargin:
		return fmt.Errorf("deep_along is %s; at most 10 km", b.DeepAlong)
	case b.DeepFrom < 0 || b.DeepFrom > tiles.MaxZoom || !b.Auto && b.DeepFrom > b.Zooms.Max:
		return fmt.Errorf("deep_from is %d, the zooms are %d to %d", b.DeepFrom, b.Zooms.Min, b.Zooms.Max)
	case b.Quality != 0 && (b.Quality < 30 || b.Quality > 95):
		return fmt.Errorf("jpeg_quality is %d; from 30 to 95", b.Quality)
	}
	return nil
}

func (j Job) checkOverlays(bad func(string, string, ...any) error) error {
	for i, m := range j.Overlays {
		if err := m.Check(); err != nil {
			return inTable("overlay", i, bad("%v", "fix its [[overlay]] table", err))
		}
	}
	return nil
}

// PackPath is where the pack of a base goes: out/NAME.mbtiles, from the second
// base on out/NAME-2-SOURCE.mbtiles and so forth.
func (j Job) PackPath(base int) string {
	name := record.Slug(j.Name)
	if base > 0 {
		name += fmt.Sprintf("-%d-%s", base+1, j.Bases[base].Source)
	}
	return filepath.Join(j.Dir, "out", name+".mbtiles")
}

// Files are the files that the job names, as it names them; those that go with them,
// such as a .prj, are not listed.
func (j Job) Files() []string {
	all := slices.Clone(j.Area)
	for _, w := range j.Within {
		all = append(all, w.File)
	}
	for _, a := range j.Along {
		all = append(all, a.File)
	}
	for _, o := range j.Overlays {
		all = append(all, o.File)
	}
	return all
}

// ComputeOptions are the options for deriving data from the job's records. The datum
// shift is that of the year of now, so that a pack does not change from day to day.
func (j Job) ComputeOptions(now time.Time) derive.Options {
	o := derive.Options{
		Uncertainty: true, Gap: j.DepthGap.Meters(), Limits: derive.Limits{Slope: j.DepthSlope},
		SanityOptions: record.SanityOptions{Year: float64(now.UTC().Year()), Units: j.Units},
		Rules:         j.Rules,
	}
	if t := j.Tolerance; t != nil {
		o.EachSide, o.Uncertainty = t.EachSide.Meters(), !t.HideUncertainty
	}
	return o
}
