package job

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/places"
)

// length and weight keep a bare number from being taken for meters, bytes or nanoseconds:
// the library puts numbers into number types, but only text into these.
type (
	length struct{ measure.Distance }
	weight struct{ measure.Size }
	age    struct{ measure.Age }
)

// jobTOML is job.toml as it is written, where that differs from a Job.
type jobTOML struct {
	Job
	Margin length `toml:"margin"`
	FitIn  weight `toml:"fit_in"`
	Around []struct {
		Center string `toml:"center"`
		Radius length `toml:"radius"`
	} `toml:"around"`
	Along []struct {
		File  string `toml:"file"`
		Width length `toml:"width"`
		formTOML
	} `toml:"along"`
	Within []struct {
		File string `toml:"file"`
		formTOML
	} `toml:"within"`
	Box       []boxTOML  `toml:"box"`
	Base      []baseTOML `toml:"base"`
	Tolerance *struct {
		pack.Tolerance
		EachSide statedLength `toml:"each_side"`
	} `toml:"tolerance"`
	Ticket *struct {
		Number     string `toml:"number"`
		ValidUntil any    `toml:"valid_until"`
	} `toml:"ticket"`
	Overlay   []overlayTOML `toml:"overlay"`
	Rule      []ruleTOML    `toml:"rule"`
	Reading   length        `toml:"reading"`
	OlderThan age           `toml:"records_older_than"`
	DepthGap  length        `toml:"depth_gap"`
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
	Base
	Zooms     []int  `toml:"zooms"`
	DeepAlong length `toml:"deep_along"`
}

func (b baseTOML) base() (Base, error) {
	out := b.Base
	out.DeepAlong = b.DeepAlong.Distance
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

// statedLength keeps its words too: a rule of 24 in is not one of 61 cm.
type statedLength struct {
	length
	text string
}

func (l *statedLength) UnmarshalText(b []byte) error {
	l.text = strings.TrimSpace(string(b))
	return l.length.UnmarshalText(b)
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
	j := r.Job
	j.Dir, j.Units = dir, cmp.Or(j.Units, "us")
	j.Margin, j.FitIn, j.Reading = r.Margin.Distance, r.FitIn.Size, r.Reading.Distance
	j.OlderThan, j.DepthGap = r.OlderThan.Age, r.DepthGap.Distance
	if err := r.shapes(&j); err != nil {
		return Job{}, err
	}
	for i, b := range r.Base {
		base, err := b.base()
		if err != nil {
			return Job{}, inTable("base", i, err)
		}
		j.Bases = append(j.Bases, base)
	}
	if t := r.Tolerance; t != nil {
		t.Tolerance.EachSide, t.Stated = t.EachSide.Distance, t.EachSide.text
		j.Tolerance = &t.Tolerance
	}
	if i := r.Instrument; i != nil {
		if err := i.Check(); err != nil {
			return Job{}, inTable("instrument", -1, fmt.Errorf("[instrument] %w", err))
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
	for i, o := range r.Overlay {
		m, err := o.meta(j.Units)
		if err != nil {
			return Job{}, inTable("overlay", i, err)
		}
		j.Overlays = append(j.Overlays, m)
	}
	return j, nil
}

// shapes adds the tables that say where the job is.
func (r jobTOML) shapes(j *Job) error {
	for i, a := range r.Around {
		lat, lon, err := places.Parse(a.Center)
		if err != nil {
			return inTable("around", i, fmt.Errorf("[[around]] center: %w", err))
		}
		j.Around = append(j.Around, Around{lat, lon, a.Radius.Distance})
	}
	for i, a := range r.Along {
		form, err := a.form()
		if err != nil {
			return inTable("along", i, fmt.Errorf("[[along]] %w", err))
		}
		j.Along = append(j.Along, Along{a.File, a.Width.Distance, form})
	}
	for i, w := range r.Within {
		form, err := w.form()
		if err != nil {
			return inTable("within", i, fmt.Errorf("[[within]] %w", err))
		}
		j.Within = append(j.Within, Within{w.File, form})
	}
	for i, b := range r.Box {
		box, err := b.box()
		if err != nil {
			return inTable("box", i, err)
		}
		j.Boxes = append(j.Boxes, box)
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
