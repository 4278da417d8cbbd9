package crs

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
)

// RuleSystem is the kind of fault of a system that is missing, wrong or not read here.
var RuleSystem = geojson.RuleCRS

// System is what the numbers of a file mean: eastings and northings of a
// projection, or degrees.
type System struct {
	Code  int       // in the EPSG registry; 0 = it was given by its numbers, and the table has none like it
	Name  string    // such as "NAD83 / Colorado North (ftUS)"
	Datum string    // of the numbers, such as "NAD83(2011)"
	Unit  Unit      // of eastings and northings; zero for degrees
	Use   tiles.Box // where the registry says it is used, in degrees; zero = not known

	definition definition
	ellipsoid  geodesic.Ellipsoid // zero = that of the datum
	projection projection
}

// Unit is a unit of length.
type Unit struct {
	Name   string // "m", "ft" (0.3048 m) or "us survey ft" (1200/3937 m)
	Meters float64
}

var units = []Unit{{"m", 1}, {"ft", measure.Foot}, {"us survey ft", measure.SurveyFoot}}

// Degrees says whether the numbers are degrees already, longitude first.
func (s System) Degrees() bool { return s.definition.method == geographic }

// ToDegrees turns a position of the file, easting first, into degrees, longitude
// first, on the system's own datum. Numbers that lie nowhere in it are not ok.
func (s System) ToDegrees(p orb.Point) (orb.Point, bool) {
	if s.Degrees() {
		return p, math.Abs(p[0]) <= 180 && math.Abs(p[1]) <= 90
	}
	p = orb.Point{p[0] * s.Unit.Meters, p[1] * s.Unit.Meters}
	if !(math.Abs(p[0]) <= beyondMeters && math.Abs(p[1]) <= beyondMeters) {
		return p, false
	}
	q, ok := s.projection.inverse(p)
	return q, ok && math.Abs(q[0]) <= 180 && math.Abs(q[1]) <= 90
}

// FromDegrees turns degrees on the system's own datum, longitude first, into numbers
// of the system, easting first: what [System.ToDegrees] undoes. Places that lie
// nowhere in it are not ok.
func (s System) FromDegrees(p orb.Point) (orb.Point, bool) {
	if !(math.Abs(p[0]) <= 180 && math.Abs(p[1]) < 90) {
		return p, false
	}
	if s.Degrees() {
		return p, true
	}
	q, ok := s.projection.forward(p)
	ok = ok && math.Abs(q[0]) <= beyondMeters && math.Abs(q[1]) <= beyondMeters
	return orb.Point{q[0] / s.Unit.Meters, q[1] / s.Unit.Meters}, ok
}

// Used says whether a place in degrees lies where the system is used, or within
// a degree of it; true where that is not known.
func (s System) Used(p orb.Point) bool {
	const room = 1
	u := s.Use
	if u == (tiles.Box{}) {
		return true
	}
	inLongitude := p[0] >= u.West-room && p[0] <= u.East+room
	if u.West > u.East { // over the antimeridian
		inLongitude = p[0] >= u.West-room || p[0] <= u.East+room
	}
	return inLongitude && p[1] >= u.South-room && p[1] <= u.North+room
}

// Text is the system as a user reads it: its name, number and unit.
func (s System) Text() string {
	text := s.Name
	if s.Code != 0 {
		text += fmt.Sprintf(", EPSG:%d", s.Code)
	}
	if s.Unit.Name != "" {
		text += ", in " + s.Unit.Name
	}
	return text
}

// complete makes the system ready to be used.
func (s System) complete() System {
	if !s.Degrees() {
		s.projection = s.definition.project(cmp.Or(s.ellipsoid, ellipsoidOf(s.Datum)))
	}
	return s
}

// Stated resolves a system as a job states it: "2231" or "EPSG:2231".
func Stated(text string) (System, error) {
	name, number, found := strings.Cut(strings.TrimSpace(text), ":")
	if !found {
		name, number = "EPSG", name
	}
	code, err := strconv.Atoi(strings.TrimSpace(number))
	if err != nil || !strings.EqualFold(strings.TrimSpace(name), "EPSG") {
		return System{}, refuse("system", fmt.Sprintf("%.40q is no number of the EPSG registry", text),
			"write it like 2231 (NAD83 / Colorado North, US survey feet); epsg.org lists them")
	}
	return ByCode(code)
}

// ByCode resolves a number of the EPSG registry.
func ByCode(code int) (System, error) {
	if s, ok := find(code); ok {
		return s.complete(), nil
	}
	place := fmt.Sprintf("EPSG:%d", code)
	switch {
	case code == 4267 || code >= 26701 && code <= 26722 || code >= 32001 && code <= 32099:
		return System{}, refuse(place, "it is on NAD27", nad27)
	case code >= 102000 && code < 105000:
		return System{}, refuse(place, "it is a number of ESRI, not of the EPSG registry",
			"give the EPSG number of the same zone and the same foot, or the .prj file")
	}
	return System{}, refuse(place, "it is not in the table of systems whose datum lies within a few meters of WGS 84", convert)
}

// What to do with a system that is not read.
const (
	nad27 = "it lies 10 to 100 m from WGS 84 by amounts that only a grid tells: " +
		"ask the record's owner for the same data on NAD83, or let a surveyor convert it with NADCON and say so in the record's note"

	convert = "ask the record's owner for State Plane or UTM on NAD83, or for WGS 84; " +
		"or convert the file with a program that names the datum shift it made, and state datum in the [[overlay]]"
)

func refuse(place, detail, remedy string) error {
	return &fault.Fault{Kind: RuleSystem, Place: place, Detail: detail, Remedy: remedy}
}

// Siblings are the systems that differ from one in nothing but the unit.
func (s System) Siblings() (all []System) {
	const centimeters = 0.05 // some zones state their false origin in whole feet
	for _, other := range systems() {
		if other.Datum == s.Datum && other.Unit != s.Unit && other.definition.like(s.definition, centimeters) {
			all = append(all, other.complete())
		}
	}
	return all
}

// Same says whether two systems give a position the same meaning.
func (s System) Same(o System) bool {
	const meters = 1e-3
	return s.Datum == o.Datum && s.Unit == o.Unit && s.ellipsoid == o.ellipsoid && s.definition.like(o.definition, meters)
}

// like says whether two projections have the same numbers, their lengths within
// some meters.
func (d definition) like(o definition, meters float64) bool {
	if d.method != o.method {
		return false
	}
	for i := range d.numbers {
		if math.Abs(d.numbers[i]-o.numbers[i]) > cmp.Or(tolerance(d.method, i), meters) {
			return false
		}
	}
	return true
}
