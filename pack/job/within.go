package job

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"groundsheet/pack/record"
	"groundsheet/tiles/tomledit"
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
	EPSG  any `toml:"epsg"`  // 2231 or "EPSG:2231"
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
	if f.EPSG == nil {
		return out, nil
	}
	number := strings.TrimSpace(fmt.Sprint(f.EPSG))
	if len(number) > 5 && strings.EqualFold(number[:5], "EPSG:") {
		number = strings.TrimSpace(number[5:])
	}
	code, err := strconv.Atoi(number)
	if err != nil || code <= 0 {
		return out, fmt.Errorf("epsg = %v: write a number of the EPSG registry, such as 2231", f.EPSG)
	}
	out.EPSG = code
	return out, nil
}

// formFields writes a form into a table of job.toml.
func formFields(f record.Form) (t tomledit.Table) {
	if f.EPSG != 0 {
		t = append(t, tomledit.Field{Key: "epsg", Value: f.EPSG})
	}
	switch len(f.Layers) {
	case 0:
	case 1:
		t = append(t, tomledit.Field{Key: "layer", Value: f.Layers[0]})
	default:
		t = append(t, tomledit.Field{Key: "layer", Value: listOf(f.Layers)})
	}
	if f.Encoding != "" {
		t = append(t, tomledit.Field{Key: "encoding", Value: f.Encoding})
	}
	return t
}

// within keeps the files whose outlines were not changed, and gives the shapes of the
// others, which are drawn anew; their tables go.
func (p *drawnPlan) within(sent map[string][]Shape) (gone []Change, drawn []Shape, err error) {
	for i, w := range slices.Backward(p.j.Within) {
		from := fmt.Sprintf("within[%d]", i)
		now := take(sent, from, polygonShape)
		var notes []string
		old, err := p.j.shapesOf(from, w, false, "", &notes)
		if err != nil {
			return nil, nil, err
		}
		if len(now) > 0 && same(now, old) {
			continue
		}
		gone = append(gone, Change{Path: from})
		drawn = append(withProperties(now, old), drawn...)
	}
	return gone, drawn, nil
}
