package job

import (
	"fmt"
	"slices"
	"strconv"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/tomledit"
)

func (p *drawnPlan) make(d Drawing) error {
	sent := map[string][]Shape{}
	for _, s := range d.Shapes {
		sent[s.From] = append(sent[s.From], s)
	}
	var late []Change // what moves places in lists comes last
	for _, part := range []func(map[string][]Shape, []Dropped) ([]Change, error){p.outlines, p.routes, p.circles} {
		more, err := part(sent, d.Dropped)
		if err != nil {
			return err
		}
		late = append(late, more...)
	}
	for from := range sent {
		return invalid(p.j.Dir, fmt.Sprintf("a shape is of no known kind, or of %q, which the job does not have (any more)", from), "look at the job again, and draw it anew")
	}
	p.changes = append(p.changes, late...)
	return nil
}

// take gives the shapes of one origin and kind, and leaves the others.
func take(sent map[string][]Shape, from, kind string) (out []Shape) {
	rest := sent[from]
	delete(sent, from)
	for _, s := range rest {
		if s.Kind == kind {
			out = append(out, s)
		} else {
			sent[from] = append(sent[from], s)
		}
	}
	return out
}

// same reports whether shapes are those of a file, all of them in their order.
func same(all, old []Shape) bool { return slices.EqualFunc(all, old, Shape.sameGround) }

func (p *drawnPlan) outlines(sent map[string][]Shape, dropped []Dropped) (late []Change, err error) {
	var names []string
	var drawn []Shape
	at, changed := -1, false // where the drawn file stands in the list
	for i, name := range p.j.Area {
		from := fmt.Sprintf("area[%d]", i)
		now := take(sent, from, polygonShape)
		if len(now) == 0 {
			continue
		}
		var notes []string
		old, err := p.j.shapesOf(from, Within{File: name}, false, "", &notes)
		if err != nil {
			return nil, err
		}
		ours := at < 0 && isDrawn("area", name) && len(notes) == 0
		if !ours && same(now, old) {
			names = append(names, name)
			continue
		}
		if changed = changed || !same(now, old); ours {
			at, names = len(names), append(names, name)
		}
		drawn = append(drawn, withProperties(now, old)...)
	}
	gone, anewOf, err := p.within(sent)
	if err != nil {
		return nil, err
	}
	late, drawn, changed = append(late, gone...), append(drawn, anewOf...), changed || len(anewOf) > 0
	for i, f := range dropped {
		now := take(sent, fmt.Sprintf("drop[%d]", i), polygonShape)
		if len(now) == 0 {
			continue
		}
		old, _, err := ShapesIn(f)
		if err != nil {
			return nil, err
		}
		if stated := record.Form(f.File.How); !f.Along && same(now, old) && stated.Stated() {
			late = append(late, Change{Path: "within[]", Value: append(tomledit.Table{{Key: "file", Value: p.copy("outline", f.File)}}, formFields(stated)...)})
		} else if !f.Along && same(now, old) {
			names = append(names, p.copy("dig-area", f.File))
		} else {
			drawn, changed = append(drawn, withProperties(now, old)...), true
		}
	}
	anew := take(sent, "", polygonShape)
	for i, b := range slices.Backward(p.j.Boxes) {
		from := fmt.Sprintf("box[%d]", i)
		corners := orb.Polygon{{{b.FromLon, b.FromLat}, {b.ToLon, b.ToLat}}}
		kept := take(sent, from, boxShape)
		if len(kept) != 1 || !kept[0].sameGround(Shape{Kind: boxShape, Rings: corners}) {
			late = append(late, Change{Path: from})
		}
		anew = append(take(sent, from, polygonShape), anew...)
	}
	drawn = append(drawn, anew...)
	if changed || len(anew) > 0 {
		old := ""
		if at >= 0 {
			old = names[at]
		} else {
			at, names = len(names), append(names, "")
		}
		if names[at], err = p.write("area", old, drawn); err != nil {
			return nil, err
		}
	}
	if !slices.Equal(names, p.j.Area) {
		p.changes = append(p.changes, Change{Path: "area", Value: listOf(names)})
	}
	return late, nil
}

func (p *drawnPlan) routes(sent map[string][]Shape, dropped []Dropped) (late []Change, err error) {
	add := func(name, width string, stated ...tomledit.Field) {
		late = append(late, Change{Path: "along[]", Value: append(tomledit.Table{{Key: "file", Value: name}, {Key: "width", Value: width}}, stated...)})
	}
	drawAnew := func(all []Shape) error {
		name, err := p.write("along", "", all)
		add(name, all[0].Width)
		return err
	}
	var gone []Change
	for i, r := range p.j.Along {
		from := fmt.Sprintf("along[%d]", i)
		groups := byWidth(take(sent, from, routeShape))
		if len(groups) == 0 {
			gone = append([]Change{{Path: from}}, gone...)
			continue
		}
		var notes []string
		old, err := p.j.shapesOf(from, Within{r.File, r.Form}, true, "", &notes)
		if err != nil {
			return nil, err
		}
		if width := groups[0][0].Width; !sameLength(width, r.Width.Text(p.j.Units)) {
			p.changes = append(p.changes, Change{Path: from + ".width", Value: width})
		}
		if len(groups) == 1 && same(groups[0], old) {
			continue
		}
		ours := ""
		if isDrawn("along", r.File) && len(notes) == 0 {
			ours = r.File
		}
		name, err := p.write("along", ours, withProperties(groups[0], old))
		if err != nil {
			return nil, err
		}
		if name != r.File {
			p.changes = append(p.changes, Change{Path: from + ".file", Value: name})
			for _, field := range formFields(r.Form) { // what is drawn is in degrees
				p.changes = append(p.changes, Change{Path: from + "." + field.Key})
			}
		}
		for _, g := range groups[1:] {
			if err := drawAnew(withProperties(g, old)); err != nil {
				return nil, err
			}
		}
	}
	for i, f := range dropped {
		groups := byWidth(take(sent, fmt.Sprintf("drop[%d]", i), routeShape))
		if len(groups) == 0 {
			continue
		}
		old, _, err := ShapesIn(f)
		if err != nil {
			return nil, err
		}
		if len(groups) == 1 && same(groups[0], old) {
			add(p.copy("route", f.File), groups[0][0].Width, formFields(record.Form(f.File.How))...)
			continue
		}
		for _, g := range groups {
			if err := drawAnew(withProperties(g, old)); err != nil {
				return nil, err
			}
		}
	}
	for _, s := range take(sent, "", routeShape) {
		if err := drawAnew([]Shape{s}); err != nil {
			return nil, err
		}
	}
	return append(gone, late...), nil
}

func byWidth(all []Shape) (groups [][]Shape) {
	for _, s := range all {
		i := slices.IndexFunc(groups, func(g []Shape) bool { return sameLength(g[0].Width, s.Width) || g[0].Width == s.Width })
		if i < 0 {
			groups = append(groups, []Shape{s})
		} else {
			groups[i] = append(groups[i], s)
		}
	}
	return groups
}

func (p *drawnPlan) circles(sent map[string][]Shape, _ []Dropped) (late []Change, err error) {
	for i, c := range p.j.Around {
		from := fmt.Sprintf("around[%d]", i)
		now := take(sent, from, circleShape)
		if len(now) != 1 || now[0].Center == nil {
			late = append([]Change{{Path: from}}, late...)
			continue
		}
		if *now[0].Center != (orb.Point{c.Lon, c.Lat}) {
			p.changes = append(p.changes, Change{Path: from + ".center", Value: placeText(*now[0].Center)})
		}
		if !sameLength(now[0].Radius, c.Radius.Text(p.j.Units)) {
			p.changes = append(p.changes, Change{Path: from + ".radius", Value: now[0].Radius})
		}
	}
	for _, s := range take(sent, "", circleShape) {
		if s.Center == nil {
			return nil, invalid(p.j.Dir, "a circle has no middle", "draw it again")
		}
		late = append(late, Change{Path: "around[]", Value: tomledit.Table{{Key: "center", Value: placeText(*s.Center)}, {Key: "radius", Value: s.Radius}}})
	}
	return late, nil
}

func placeText(p orb.Point) string {
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	return number(p.Lat()) + "," + number(p.Lon())
}
