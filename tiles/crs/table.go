package crs

import (
	_ "embed"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geodesic"
)

// table is the systems that are known by their number; its first lines name
// their source.
//
//go:embed systems.txt
var table string

// systems is the table in the order of the registry's numbers, degrees first,
// not yet completed.
var systems = sync.OnceValue(func() []System {
	all, err := readTable(table)
	if err != nil {
		panic("crs: " + err.Error()) // a test reads it
	}
	return all
})

func readTable(text string) (all []System, err error) {
	projections := map[string]definition{"0": {}}
	for line := range strings.Lines(text) {
		kind, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
		switch kind {
		case "p":
			if err := readProjection(rest, projections); err != nil {
				return nil, fmt.Errorf("%s: %w", line, err)
			}
		case "s":
			s, err := readSystem(rest, projections)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", line, err)
			}
			all = append(all, s)
		}
	}
	return all, nil
}

func readProjection(text string, to map[string]definition) error {
	fields := strings.Fields(text)
	if len(fields) < 2 || len(fields) > 2+mostNumbers {
		return fmt.Errorf("%d fields", len(fields))
	}
	m, err := strconv.Atoi(fields[1])
	d := definition{method: method(m)}
	for i, text := range fields[2:] {
		if err == nil {
			d.numbers[i], err = strconv.ParseFloat(text, 64)
		}
	}
	if detail := d.sane(); err == nil && detail != "" {
		return errors.New(detail)
	}
	to[fields[0]] = d
	return err
}

func readSystem(text string, projections map[string]definition) (s System, err error) {
	fields := strings.Split(text, "|")
	if len(fields) != 6 {
		return s, fmt.Errorf("%d fields", len(fields))
	}
	s.Name, s.Datum = fields[1], fields[2]
	known := false
	if s.definition, known = projections[fields[3]]; !known {
		return s, fmt.Errorf("no projection %s", fields[3])
	}
	name := strings.Replace(fields[4], "us-ft", "us survey ft", 1)
	if i := slices.IndexFunc(units, func(u Unit) bool { return u.Name == name }); i >= 0 {
		s.Unit = units[i]
	}
	if s.Code, err = strconv.Atoi(fields[0]); err != nil {
		return s, err
	}
	_, err = fmt.Sscanf(fields[5], "%g,%g,%g,%g", &s.Use.West, &s.Use.South, &s.Use.East, &s.Use.North)
	return s, err
}

// find looks a number up.
func find(code int) (System, bool) {
	i := slices.IndexFunc(systems(), func(s System) bool { return s.Code == code })
	if i < 0 {
		return System{}, false
	}
	return systems()[i], true
}

// At lists the systems with eastings and northings that are used at a place in
// degrees, those of the smallest ground first: State Plane zones, then UTM and
// larger ones.
func At(place orb.Point) []System {
	var all []System
	for _, s := range systems() {
		if !s.Degrees() && s.definition.method != webMercator && s.Use != (tiles.Box{}) && s.covers(place) {
			all = append(all, s.complete())
		}
	}
	slices.SortStableFunc(all, func(a, b System) int { return int(a.degreesWide()*100) - int(b.degreesWide()*100) })
	return all
}

func (s System) covers(p orb.Point) bool {
	u := s.Use
	in := p[0] >= u.West && p[0] <= u.East
	if u.West > u.East {
		in = p[0] >= u.West || p[0] <= u.East
	}
	return in && p[1] >= u.South && p[1] <= u.North
}

// degreesWide is how much ground the system is for.
func (s System) degreesWide() float64 {
	width := s.Use.East - s.Use.West
	if width < 0 {
		width += 360
	}
	return width * (s.Use.North - s.Use.South)
}

// Fit is a system in which the numbers of a file lie near a job.
type Fit struct {
	System System
	Away   float64 // meters from the job to the farthest of the numbers
}

// Fitting lists the systems of [At] in which all of some positions, easting
// first, lie within meters of a place, the nearest first. Several may fit: the
// two feet lie a few meters apart, realizations of one datum less. A person has
// to tell them apart; nothing here may choose.
func Fitting(positions []orb.Point, place orb.Point, within float64) (all []Fit) {
	for _, s := range At(place) {
		fit := Fit{System: s}
		for _, p := range positions {
			q, ok := s.ToDegrees(p)
			if !ok {
				fit.Away = within + 1
				break
			}
			fit.Away = max(fit.Away, geodesic.Distance(q, place))
		}
		if len(positions) > 0 && fit.Away <= within {
			all = append(all, fit)
		}
	}
	slices.SortStableFunc(all, func(a, b Fit) int { return int(a.Away) - int(b.Away) })
	return all
}
