package job

import (
	"fmt"

	"groundsheet/pack"
	"groundsheet/pack/record/derive"
)

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
