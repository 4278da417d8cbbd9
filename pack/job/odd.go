package job

import (
	"errors"
	"fmt"
	"math"
	"regexp"

	"github.com/paulmach/orb"

	"groundsheet/tiles/area"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/places"
	"groundsheet/tiles/words"
)

// Odd is what is wrong with a shape, or asked about it.
type Odd struct {
	Shape  int       `json:"shape"` // which one, from 0
	Wrong  bool      `json:"wrong"` // it cannot be used; else it is only asked whether it is meant
	What   string    `json:"what"`
	Remedy string    `json:"remedy,omitempty"`
	At     orb.Point `json:"at"`
}

// What is asked about (the project's own choice, no source): the area of a shape in
// square meters, and how far it lies from everything else of the job in meters.
const (
	tinyArea = 0.5
	hugeArea = 25e6
	farAway  = 10_000
)

// LookAt makes the area of shapes, as far as they can be used, and says what is odd about
// each. others are what else the job has, such as its records.
func LookAt(shapes []Shape, units string, others []orb.Bound) (whole area.Area, odd []Odd) {
	bounds := make([]orb.Bound, len(shapes))
	for i, s := range shapes {
		one, err := s.Area()
		if err != nil {
			odd = append(odd, wrong(i, s, err))
			continue
		}
		whole = whole.Join(one)
		bounds[i] = s.bound()
		ask := func(text string) { odd = append(odd, Odd{Shape: i, What: text, At: bounds[i].Center()}) }
		switch m2 := one.SquareMeters(); {
		case m2 < tinyArea:
			ask(words.Say("draw.tiny", "area", small(m2, units)))
		case m2 > hugeArea:
			ask(words.Say("draw.huge", "area", measure.GroundArea(m2, units)))
		}
		if at := bounds[i].Center(); units == "us" {
			if lat, lon, ok := places.MeantInUS(at[1], at[0]); ok {
				ask(words.Say("draw.elsewhere", "given", placeShort(at), "likely", placeShort(orb.Point{lon, lat})))
			}
		}
	}
	for i, b := range bounds {
		nearest := math.Inf(1)
		for k, o := range append(bounds[:len(bounds):len(bounds)], others...) {
			if k != i && !o.IsZero() && !b.IsZero() {
				nearest = min(nearest, between(b, o))
			}
		}
		if nearest > farAway && !math.IsInf(nearest, 1) {
			odd = append(odd, Odd{Shape: i, At: b.Center(), What: words.Say("draw.far", "distance", measure.Distance(nearest).In(units))})
		}
	}
	return whole, odd
}

// Area is the ground of one shape.
func (s Shape) Area() (area.Area, error) {
	switch s.Kind {
	case polygonShape:
		return area.Polygons([]geojson.Feature{{Geometry: s.Rings, Place: polygonShape}})
	case routeShape:
		width, err := measure.ParseDistance(s.Width)
		if err != nil {
			return area.Area{}, err
		}
		return area.Route([]geojson.Feature{{Geometry: s.Line, Place: routeShape}}, width.Meters())
	case circleShape:
		radius, err := measure.ParseDistance(s.Radius)
		if err != nil {
			return area.Area{}, err
		}
		if s.Center != nil {
			return area.Around(s.Center.Lat(), s.Center.Lon(), radius.Meters())
		}
	case boxShape:
		if len(s.Rings) == 1 && len(s.Rings[0]) == 2 {
			a, b := s.Rings[0][0], s.Rings[0][1]
			return area.Polygons(Box{a.Lat(), a.Lon(), b.Lat(), b.Lon()}.features())
		}
	}
	return area.Area{}, fmt.Errorf("a %q without its corners cannot be used", s.Kind)
}

func (s Shape) bound() orb.Bound {
	switch {
	case s.Center != nil:
		return s.Center.Bound()
	case len(s.Line) > 0:
		return s.Line.Bound()
	case len(s.Rings) > 0:
		return s.Rings[0].Bound() // a box has its corners there
	}
	return orb.Bound{}
}

var nearText = regexp.MustCompile(`at or near (-?[\d.]+), (-?[\d.]+)`)

// wrong is the fault of a shape, with the place that it names.
func wrong(i int, s Shape, err error) Odd {
	o := Odd{Shape: i, Wrong: true, What: err.Error(), At: s.bound().Center()}
	if f := (*fault.Fault)(nil); errors.As(err, &f) {
		o.What, o.Remedy = f.Detail, f.Remedy
		if m := nearText.FindStringSubmatch(f.Place); m != nil {
			_, _ = fmt.Sscan(m[1], &o.At[1]) // digits, as the expression has it
			_, _ = fmt.Sscan(m[2], &o.At[0])
		}
	}
	return o
}

// between is how far two boxes lie apart, in meters.
func between(a, b orb.Bound) float64 {
	nearest := func(p orb.Point, in orb.Bound) orb.Point {
		return orb.Point{min(max(p[0], in.Min[0]), in.Max[0]), min(max(p[1], in.Min[1]), in.Max[1])}
	}
	on := nearest(nearest(b.Center(), a), b)
	return geodesic.Distance(nearest(on, a), on)
}

func placeShort(p orb.Point) string { return fmt.Sprintf("%.5f, %.5f", p.Lat(), p.Lon()) }

// small is an area that is less than the smallest unit of larger ones.
func small(m2 float64, units string) string {
	if units == "us" {
		return fmt.Sprintf("%.1f sq ft", m2/measure.Foot/measure.Foot)
	}
	return fmt.Sprintf("%.2f m²", m2)
}
