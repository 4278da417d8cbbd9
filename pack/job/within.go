package job

import (
	"fmt"
	"strings"

	"groundsheet/pack/record"
)

// Within is a file with outlines of the dig area of which more has to be said than
// its name; the others are named in [Job.Area].
type Within struct {
	File string
	record.Form
}

// formTOML is a [record.Form] as it is written.
type formTOML struct {
	record.Form
	Layer any `toml:"layer"` // one name or a list of them
}

func (f formTOML) form() (record.Form, error) {
	out := f.Form
	switch l := f.Layer.(type) {
	case nil:
	case string:
		out.Layers = []string{l}
	case []any:
		for _, one := range l {
			name, ok := one.(string)
			if !ok {
				return out, fmt.Errorf(`layer = %v: write the names of layers: layer = ["GAS", "GAS-SERVICE"]`, f.Layer)
			}
			out.Layers = append(out.Layers, name)
		}
	default:
		return out, fmt.Errorf(`layer = %v: write the name of a layer: layer = "GAS"`, f.Layer)
	}
	for _, name := range out.Layers {
		if strings.TrimSpace(name) == "" {
			return out, fmt.Errorf(`layer: a name is empty: write the name of a layer, or "*" for all of them`)
		}
	}
	if out.EPSG < 0 {
		return out, fmt.Errorf("epsg = %d: write a number of the EPSG registry, such as 2231", out.EPSG)
	}
	return out, nil
}
