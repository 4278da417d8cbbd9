package job

import (
	"fmt"
	"strings"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/measure"
)

// overlayTOML is an [[overlay]] of job.toml as it is written.
type overlayTOML struct {
	record.Meta
	Recorded any        `toml:"recorded"`
	Accuracy *plusMinus `toml:"accuracy"`
	Shift    string     `toml:"shift"`
	EPSG     any        `toml:"epsg"`
	Layer    any        `toml:"layer"`
}

func (o overlayTOML) meta(units string) (m record.Meta, err error) {
	m = o.Meta
	if m.Form, err = (formTOML{o.Form, o.EPSG, o.Layer}).form(); err != nil {
		return m, fmt.Errorf("overlay %s: %w", o.File, err)
	}
	if m.Recorded, err = dateText(o.Recorded); err != nil {
		return m, fmt.Errorf("overlay %s: recorded: %w", o.File, err)
	}
	if o.Accuracy != nil {
		m.Accuracy = &o.Accuracy.Distance
	}
	if o.Shift != "" {
		if m.Shift, err = record.ParseShift(o.Shift, units); err != nil {
			return m, fmt.Errorf("overlay %s: %w", o.File, err)
		}
	}
	for i := range m.LeaveOut {
		m.LeaveOut[i].Why = strings.TrimSpace(m.LeaveOut[i].Why)
	}
	return m, nil
}

// plusMinus is a length that may have the ± of an accuracy before it.
type plusMinus struct{ length }

func (l *plusMinus) UnmarshalText(b []byte) error {
	return l.length.UnmarshalText([]byte(measure.TrimPlusMinus(string(b))))
}

// ruleTOML is a [[rule]] of job.toml as it is written.
type ruleTOML struct {
	Between    []string      `toml:"between"`
	Vertical   *statedLength `toml:"vertical"`
	Horizontal *statedLength `toml:"horizontal"`
	By         string        `toml:"by"`
}

func (r ruleTOML) rule() (out derive.Rule, err error) {
	if len(r.Between) != 2 {
		return out, fmt.Errorf(`between wants two utilities: between = ["gas", "electric"]; one may stand twice, "any" is each`)
	}
	out.Between, out.By = [2]string(r.Between), r.By
	out.Vertical, out.Horizontal = r.Vertical.least(), r.Horizontal.least()
	return out, nil
}

// least keeps the words of the job, a number and its unit set apart.
func (l *statedLength) least() *derive.MinClearance {
	if l == nil {
		return nil
	}
	return &derive.MinClearance{M: l.Meters(), Stated: pack.SpaceUnit(l.text)}
}
