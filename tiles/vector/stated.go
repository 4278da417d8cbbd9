package vector

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"groundsheet/tiles/crs"
)

// The names that columns of eastings and northings usually have. Plain x and y
// are those where a system is stated.
var (
	eastingNames  = []string{"easting", "utm easting", "easting (m)", "easting_m", "easting (ft)", "easting_ft"}
	northingNames = []string{"northing", "utm northing", "northing (m)", "northing_m", "northing (ft)", "northing_ft"}
	eastingShort  = []string{"e", "x", "east", "x (ft)", "x_ft", "x (m)", "x_m", "x coord", "x_coord", "point_x", "pnt_x"}
	northingShort = []string{"n", "y", "north", "y (ft)", "y_ft", "y (m)", "y_m", "y coord", "y_coord", "point_y", "pnt_y"}
)

// inSystem finds the place of a row by the stated system.
func (p Positions) inSystem(t *table, s crs.System) (locator, error) {
	if s.Degrees() {
		return locator{}, refuse(RuleTable, "epsg", fmt.Sprintf("EPSG:%d counts degrees, and the table has eastings and northings", s.Code),
			"give the number of the projected system, such as 2231")
	}
	east, err := t.coordinate("easting", p.Easting, slices.Concat(eastingNames, eastingShort)...)
	if err != nil {
		return locator{}, err
	}
	north, err := t.coordinate("northing", p.Northing, slices.Concat(northingNames, northingShort)...)
	if err != nil {
		return locator{}, err
	}
	if east < 0 || north < 0 {
		return locator{}, t.wrongHeader("no columns for easting and northing",
			"name the columns easting and northing (or E and N, X and Y), or say in the job which they are")
	}
	if err := unitAgrees(s, p.Unit, plainColumn(t.header[east]+" "+t.header[north])); err != nil {
		return locator{}, err
	}
	note := fmt.Sprintf("Places were read from the columns %s (easting) and %s (northing) in %s, and converted to degrees on %s; nothing was shifted.",
		quote(t.header[east]), quote(t.header[north]), s.Text(), s.Datum)
	return locator{[]int{east, north}, note, systemIn(s, east, north)}, nil
}

// unitAgrees refuses a unit that is stated beside the system, in the job or in
// the names of the columns, and is another: one of the two is wrong.
func unitAgrees(s crs.System, stated float64, names string) error {
	inFeet := strings.Contains(names, "(ft)") || strings.Contains(names, "_ft")
	inMeters := strings.Contains(names, "(m)") || strings.Contains(names, "_m")
	switch {
	case stated != 0 && math.Abs(stated-s.Unit.Meters) > 1e-9, inFeet && s.Unit.Meters == 1, inMeters && s.Unit.Meters != 1:
		remedy := "take out the one that is wrong"
		for _, other := range s.Siblings() {
			remedy += fmt.Sprintf("; in %s the same zone is epsg = %d", other.Unit.Name, other.Code)
		}
		return refuse(RuleTable, "epsg", fmt.Sprintf("EPSG:%d counts in %s, and the job or the columns' names say another unit", s.Code, s.Unit.Name), remedy)
	}
	return nil
}

// systemIn reads the place of a row from two columns.
func systemIn(s crs.System, east, north int) func(*Row) {
	return func(r *Row) {
		e, ok1 := number(strings.TrimSpace(r.Cells[east]))
		n, ok2 := number(strings.TrimSpace(r.Cells[north]))
		if !ok1 || !ok2 {
			r.Fault = quote(r.Cells[east]+", "+r.Cells[north]) + " is not an easting and a northing"
			return
		}
		p, ok := s.ToDegrees([2]float64{e, n})
		swapped, also := s.ToDegrees([2]float64{n, e})
		switch {
		case !ok:
			r.Fault = fmt.Sprintf("easting %.2f, northing %.2f is nowhere in %s", e, n, s.Name)
		case !s.Used(p):
			r.Fault = fmt.Sprintf("easting %.2f, northing %.2f lies near latitude %.3f, longitude %.3f, outside of the ground that %s is for", e, n, p[1], p[0], s.Name)
			if also && s.Used(swapped) {
				r.Fault += ": are easting and northing swapped?"
			}
		}
		r.Point = p
	}
}

// places finds the columns of the place and how to read them: by the stated
// system, else as degrees.
func (c *corners) places(b *builder, f File) (find func(*Row), err error) {
	if f.How.EPSG == 0 {
		err = c.columns()
		return degreesIn(c.lat, c.lon), err
	}
	s, err := b.settle(f, nil, "epsg")
	switch {
	case err != nil:
		return nil, err
	case s.Degrees():
		err = c.columns()
		return degreesIn(c.lat, c.lon), err
	}
	place, err := Positions{}.inSystem(c.table, s)
	if err != nil {
		return nil, err
	}
	c.lon, c.lat = place.used[0], place.used[1]
	c.findPart()
	return place.find, nil
}
