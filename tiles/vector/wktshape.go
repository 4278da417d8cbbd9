package vector

import (
	"fmt"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
)

// geometry reads one geometry; nil for an empty one. inner says that it lies
// in a collection.
func (w *wktReader) geometry(inner bool) (orb.Geometry, error) {
	w.blank()
	start := w.at
	word := w.word()
	kind, ok := wktKind(word)
	if !ok {
		w.at = start
		return nil, w.wrong(quote(word) + " is no kind of shape that is known here")
	}
	if kind == "GEOMETRYCOLLECTION" && inner {
		w.at = start
		return nil, fault(geojson.RuleNesting, w.here(), "a collection inside a collection", "put its shapes into the outer one")
	}
	if next := w.peek(); word == kind && slices.Contains([]string{"Z", "M", "ZM"}, next) {
		w.word()
	}
	if w.peek() == "EMPTY" {
		w.word()
		return nil, nil
	}
	return w.body(kind)
}

func (w *wktReader) body(kind string) (orb.Geometry, error) {
	switch kind {
	case "POINT":
		list, err := w.positions()
		if err == nil && len(list) != 1 {
			err = w.wrong(fmt.Sprintf("a POINT of %d positions", len(list)))
		}
		if err != nil {
			return nil, err
		}
		return list[0], nil
	case "LINESTRING":
		list, err := w.positions()
		return orb.LineString(list), err
	case "POLYGON":
		return w.polygon()
	case "MULTIPOINT":
		list, err := listed(w, w.multiPoint)
		return orb.MultiPoint(list), err
	case "MULTILINESTRING":
		list, err := listed(w, func() (orb.LineString, error) { list, err := w.part(); return list, err })
		return orb.MultiLineString(list), err
	case "MULTIPOLYGON":
		list, err := listed(w, w.polygon)
		return orb.MultiPolygon(list), err
	}
	list, err := listed(w, func() (orb.Geometry, error) { return w.geometry(true) })
	list = slices.DeleteFunc(list, func(g orb.Geometry) bool { return g == nil })
	return orb.Collection(list), err
}

// listed reads elements in brackets, with commas between them.
func listed[T any](w *wktReader, one func() (T, error)) ([]T, error) {
	if err := w.need('('); err != nil {
		return nil, err
	}
	var all []T
	for {
		v, err := one()
		if err != nil {
			return nil, err
		}
		all = append(all, v)
		if !w.take(',') {
			return all, w.need(')')
		}
	}
}

func (w *wktReader) polygon() (orb.Polygon, error) {
	list, err := listed(w, func() (orb.Ring, error) { list, err := w.part(); return list, err })
	return orb.Polygon(list), err
}

// part reads the positions of a ring or of one line of several.
func (w *wktReader) part() ([]orb.Point, error) {
	if w.parts++; w.parts > MaxParts {
		return nil, fault(geojson.RuleSize, w.here(), fmt.Sprintf("more than %d rings or lines", MaxParts), "split the file")
	}
	return w.positions()
}

func (w *wktReader) positions() ([]orb.Point, error) { return listed(w, w.position) }

// multiPoint reads a position with or without brackets of its own.
func (w *wktReader) multiPoint() (orb.Point, error) {
	if !w.take('(') {
		return w.position()
	}
	p, err := w.position()
	if err != nil {
		return p, err
	}
	return p, w.need(')')
}

// position reads two to four numbers; height and measure are passed over.
func (w *wktReader) position() (p orb.Point, err error) {
	if w.points++; w.points > geojson.MaxPositions {
		return p, fault(geojson.RuleSize, w.here(), fmt.Sprintf("more than %d positions", geojson.MaxPositions), "simplify the shapes or split the file")
	}
	const most = 4
	for i := 0; ; i++ {
		w.blank()
		start := w.at
		for w.at < len(w.text) && strings.IndexByte(" \t\r\n,()", w.text[w.at]) < 0 {
			w.at++
		}
		text := w.text[start:w.at]
		if text == "" && i >= 2 {
			return p, nil
		}
		v, ok := number(text)
		w.at = max(start, w.at)
		switch {
		case text == "":
			return p, w.wrong(fmt.Sprintf("a position of %d numbers", i))
		case i >= most:
			return p, w.wrong(fmt.Sprintf("a position of more than %d numbers", most))
		case i > 1 && strings.EqualFold(text, "nan"): // a height that is not known
		case !ok:
			w.at = start
			return p, w.wrong(quote(text) + " is not a number")
		case i < 2:
			p[i] = v
		}
	}
}
