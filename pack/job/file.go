package job

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/places"
)

// length and weight keep a bare number from being taken for metres, bytes or nanoseconds:
// the library puts numbers into number types, but only text into these.
type (
	length struct{ measure.Distance }
	weight struct{ measure.Size }
	age    struct{ measure.Age }
)

// jobTOML is job.toml as it is written.
type jobTOML struct {
	Name       string         `toml:"name"`
	Number     string         `toml:"number"`
	Area       []string       `toml:"area"`
	Margin     length         `toml:"margin"`
	Units      string         `toml:"units"`
	FitIn      weight         `toml:"fit_in"`
	OneCall    string         `toml:"one_call"`
	Invented   bool           `toml:"invented"`
	Expected   []string       `toml:"expected"`
	Around     []aroundTOML   `toml:"around"`
	Along      []alongTOML    `toml:"along"`
	Box        []boxTOML      `toml:"box"`
	Base       []baseTOML     `toml:"base"`
	Tolerance  *toleranceTOML `toml:"tolerance"`
	Ticket     *ticketTOML    `toml:"ticket"`
	Overlay    []overlayTOML  `toml:"overlay"`
	Rule       []ruleTOML     `toml:"rule"`
	Reading    length         `toml:"reading"`
	OlderThan  age            `toml:"records_older_than"`
	DepthGap   length         `toml:"depth_gap"`
	DepthSlope float64        `toml:"depth_slope"`
}

type aroundTOML struct {
	Center string `toml:"center"`
	Radius length `toml:"radius"`
}

type alongTOML struct {
	File  string `toml:"file"`
	Width length `toml:"width"`
}

type boxTOML struct {
	From string `toml:"from"`
	To   string `toml:"to"`
}

func (b boxTOML) box() (out Box, err error) {
	if out.FromLat, out.FromLon, err = places.Parse(b.From); err != nil {
		return out, fmt.Errorf("[[box]] from: %w", err)
	}
	if out.ToLat, out.ToLon, err = places.Parse(b.To); err != nil {
		return out, fmt.Errorf("[[box]] to: %w", err)
	}
	return out, nil
}

type baseTOML struct {
	Source    string `toml:"source"`
	Zooms     []int  `toml:"zooms"`
	Magnified bool   `toml:"magnified"`
	DeepAlong length `toml:"deep_along"`
	DeepFrom  int    `toml:"deep_from"`
	Quality   int    `toml:"jpeg_quality"`
}

func (b baseTOML) base() (Base, error) {
	out := Base{Source: b.Source, Magnified: b.Magnified, DeepAlong: b.DeepAlong.Distance, DeepFrom: b.DeepFrom, Quality: b.Quality}
	switch len(b.Zooms) {
	case 0:
		out.Auto = true
	case 2:
		out.Zooms = tiles.Zooms{Min: b.Zooms[0], Max: b.Zooms[1]}
	default:
		return out, fmt.Errorf("base %q: zooms wants two numbers, the shallowest and the deepest: zooms = [14, 21]; leave it out to let the plan choose", b.Source)
	}
	return out, nil
}

type toleranceTOML struct {
	EachSide statedLength `toml:"each_side"`
	Rule     string       `toml:"rule"`
	Hide     bool         `toml:"hide_uncertainty"`
}

// statedLength keeps its words too: a rule of 24 in is not one of 61 cm.
type statedLength struct {
	length
	text string
}

func (l *statedLength) UnmarshalText(b []byte) error {
	l.text = strings.TrimSpace(string(b))
	return l.length.UnmarshalText(b)
}

type ticketTOML struct {
	Number     string `toml:"number"`
	ValidUntil any    `toml:"valid_until"`
}

type overlayTOML struct {
	File         string        `toml:"file"`
	Title        string        `toml:"title"`
	Utility      string        `toml:"utility"`
	QualityLevel string        `toml:"quality_level"`
	Recorded     any           `toml:"recorded"`
	Owner        string        `toml:"owner"`
	Record       string        `toml:"record"`
	Accuracy     *plusMinus    `toml:"accuracy"`
	Note         string        `toml:"note"`
	Datum        string        `toml:"datum"`
	Shift        string        `toml:"shift"`
	LeaveOut     []leftOutTOML `toml:"leave_out"`
	tableTOML
}

type leftOutTOML struct {
	Line int    `toml:"line"`
	Why  string `toml:"why"`
}

// plusMinus is a length that may have the ± of an accuracy before it.
type plusMinus struct{ length }

func (l *plusMinus) UnmarshalText(b []byte) error {
	return l.length.UnmarshalText([]byte(measure.TrimPlusMinus(string(b))))
}

// tableTOML says how a table of readings is to be taken.
type tableTOML struct {
	Columns       map[string]string `toml:"columns"`
	Units         map[string]string `toml:"units"`
	UTMZone       string            `toml:"utm_zone"`
	CoordinatesIn string            `toml:"coordinates_in"`
}

// Read reads DIR/job.toml. A key that is not known is refused with its
// line, so that a slip of the pen is never passed over.
func Read(dir string) (Job, error) {
	path := filepath.Join(dir, FileName)
	data, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return Job{}, invalid(path, "there is no such file", "name a job folder, or make one with: groundsheet new")
	}
	if info, statErr := os.Stat(dir); err != nil && statErr == nil && !info.IsDir() {
		return Job{}, invalid(dir, "is a file", "name the job folder that it is in")
	}
	if err != nil {
		return Job{}, err
	}
	return Parse(data, dir)
}

// Parse reads the text of a job.toml in dir.
func Parse(data []byte, dir string) (Job, error) {
	var raw jobTOML
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	d := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields()
	if err := d.Decode(&raw); err != nil {
		detail, remedy := explain(err, data)
		return Job{}, invalid(filepath.Join(dir, FileName), detail, remedy)
	}
	j, err := raw.job(dir)
	if err == nil {
		err = j.Check()
	}
	return j, withLine(err, filepath.Join(dir, FileName), data)
}

func (r jobTOML) job(dir string) (Job, error) {
	j := Job{
		Dir: dir, Name: r.Name, Number: r.Number, Units: r.Units, OneCall: r.OneCall, Invented: r.Invented,
		Area: r.Area, Margin: r.Margin.Distance, FitIn: r.FitIn.Size, Expected: r.Expected, Reading: r.Reading.Distance,
		OlderThan: r.OlderThan.Age, DepthGap: r.DepthGap.Distance, DepthSlope: r.DepthSlope,
	}
	if j.Units == "" {
		j.Units = "us"
	}
	for i, a := range r.Around {
		lat, lon, err := places.Parse(a.Center)
		if err != nil {
			return Job{}, inTable("around", i, fmt.Errorf("[[around]] center: %w", err))
		}
		j.Around = append(j.Around, Around{lat, lon, a.Radius.Distance})
	}
	for _, a := range r.Along {
		j.Along = append(j.Along, Along{a.File, a.Width.Distance})
	}
	for i, b := range r.Box {
		box, err := b.box()
		if err != nil {
			return Job{}, inTable("box", i, err)
		}
		j.Boxes = append(j.Boxes, box)
	}
	for i, b := range r.Base {
		base, err := b.base()
		if err != nil {
			return Job{}, inTable("base", i, err)
		}
		j.Bases = append(j.Bases, base)
	}
	if r.Tolerance != nil {
		j.Tolerance = &pack.Tolerance{
			EachSide: r.Tolerance.EachSide.Distance, Stated: r.Tolerance.EachSide.text, Rule: r.Tolerance.Rule, HideUncertainty: r.Tolerance.Hide,
		}
	}
	if r.Ticket != nil {
		day, err := dateText(r.Ticket.ValidUntil)
		if err != nil {
			return Job{}, inTable("ticket", -1, fmt.Errorf("ticket valid_until: %w", err))
		}
		j.Ticket = &pack.Ticket{Number: r.Ticket.Number, ValidUntil: day}
	}
	for i, rule := range r.Rule {
		stated, err := rule.rule()
		if err != nil {
			return Job{}, inTable("rule", i, fmt.Errorf("[[rule]] number %d: %w", i+1, err))
		}
		j.Rules = append(j.Rules, stated)
	}
	return j, r.overlays(&j)
}

func (r jobTOML) overlays(j *Job) error {
	for i, o := range r.Overlay {
		recorded, err := dateText(o.Recorded)
		if err != nil {
			return inTable("overlay", i, fmt.Errorf("overlay %s: recorded: %w", o.File, err))
		}
		m := record.Meta{
			File: o.File, Title: o.Title, Utility: o.Utility, QualityLevel: o.QualityLevel, Recorded: recorded,
			Owner: o.Owner, Record: o.Record, Note: o.Note, Datum: o.Datum,
			TableFormat: record.TableFormat{Columns: o.Columns, Units: o.Units, UTMZone: o.UTMZone, CoordinatesIn: o.CoordinatesIn},
		}
		if o.Accuracy != nil {
			m.Accuracy = &o.Accuracy.Distance
		}
		if o.Shift != "" {
			if m.Shift, err = record.ParseShift(o.Shift, j.Units); err != nil {
				return inTable("overlay", i, fmt.Errorf("overlay %s: %w", o.File, err))
			}
		}
		for _, l := range o.LeaveOut {
			m.LeaveOut = append(m.LeaveOut, record.LeftOut{Line: l.Line, Why: strings.TrimSpace(l.Why)})
		}
		j.Overlays = append(j.Overlays, m)
	}
	return nil
}

// dateText takes a TOML date or a text; both are common in hand-written jobs.
func dateText(v any) (string, error) {
	switch d := v.(type) {
	case nil:
		return "", nil
	case string:
		return d, nil
	case toml.LocalDate:
		return d.String(), nil
	case int64:
		return fmt.Sprint(d), nil
	case toml.LocalDateTime:
		return d.LocalDate.String(), nil
	case time.Time:
		return d.Format(time.DateOnly), nil
	}
	return "", fmt.Errorf("%v is no date: write YYYY-MM-DD", v)
}

func isDay(s string) bool {
	_, err := time.Parse(time.DateOnly, s)
	return err == nil
}
