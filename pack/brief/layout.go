package brief

import (
	"fmt"
	"groundsheet/tiles/fault"
)

// layout is what is on which map page.
type layout struct {
	overview view
	plan     stripPlan // along routes
	plain    []view    // with north up, where no route runs
	asked    bool      // the scale was asked for
}

// count is how many strips and sheets there are.
func (l layout) count() int { return len(l.plan.strips) + len(l.plain) }

func (l layout) scale() float64 {
	if len(l.plan.strips) > 0 {
		return l.plan.scale
	}
	return l.plain[0].scale
}

// sheets are the map pages.
func (l layout) sheets(wide box) []sheet {
	parts := make([]view, 0, l.count())
	for _, one := range l.plan.strips {
		parts = append(parts, one.view)
	}
	parts = append(parts, l.plain...)
	all := []sheet{{view: l.overview, of: l.count(), parts: parts}}
	for i := 0; i < len(l.plan.strips); i += l.plan.rows {
		some := l.plan.strips[i:min(i+l.plan.rows, len(l.plan.strips))]
		page := some[0].view
		page.on = wide
		all = append(all, sheet{view: page, of: l.count(), strips: some})
	}
	for _, v := range l.plain {
		all = append(all, sheet{view: v, of: l.count()})
	}
	return all
}

// layOut gives the overview and the detail sheets; on is the map of an upright
// page, wide that of a page on its side.
func layOut(s site, on, wide box, scale float64) (layout, error) {
	whole := s.margin.Bound()
	l := layout{overview: newView(0, whole.Center(), fitScale(whole, s.about.Units, on), on), asked: scale != 0}
	outline := s.margin
	var err error
	if l.plan, err = s.strips(scale, wide); err != nil {
		return l, err
	}
	if len(l.plan.strips) > 0 {
		if outline = s.apart; len(outline) == 0 {
			return l, nil
		}
	}
	chosen := scale
	if scale == 0 {
		chosen = chooseScale(outline, s.about.Units, on)
	}
	l.plain = grid(outline, chosen, on, mostSheets)
	if len(l.plain) > mostSheets {
		return l, &fault.Fault{
			Kind:   Misuse,
			Detail: fmt.Sprintf("at scale %s the job takes more than %d sheets", scaleWords(chosen, s.about.Units), mostSheets),
			Remedy: fmt.Sprintf("leave the scale out, or use 1:%.0f", chooseScale(outline, s.about.Units, on)),
		}
	}
	if len(l.plain) == 0 {
		return l, broken(s.pack, "its area", fmt.Errorf("no sheet shows any of it"))
	}
	for i := range l.plain {
		l.plain[i].number += len(l.plan.strips)
	}
	return l, nil
}
