package crs

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// parameterCodes are the numbers of the registry for the parameters of each
// method, in the order of [definition].
var parameterCodes = map[method][]int{
	webMercator: {8801, 8802, 8806, 8807},
	conic1:      {8801, 8802, 8805, 8806, 8807},
	conic2:      {8821, 8822, 8823, 8824, 8826, 8827},
	transverse:  {8801, 8802, 8805, 8806, 8807},
	obliqueA:    {8811, 8812, 8813, 8814, 8815, 8806, 8807},
	obliqueB:    {8811, 8812, 8813, 8814, 8815, 8816, 8817},
	equalArea:   {8821, 8822, 8823, 8824, 8826, 8827},
}

// quantity is what a parameter counts.
type quantity int

const (
	angle quantity = iota
	ratio
	length
)

// parameters are the plain names that WKT gives to the parameters of the
// registry, in WKT 1 as OGC and ESRI write it and in WKT 2.
var parameters = map[int]struct {
	counts quantity
	names  []string
}{
	8801: {angle, []string{"LATITUDEOFORIGIN", "LATITUDEOFNATURALORIGIN", "LATITUDEOFCENTER", "STANDARDPARALLEL1"}},
	8802: {angle, []string{"CENTRALMERIDIAN", "LONGITUDEOFNATURALORIGIN", "LONGITUDEOFCENTER"}},
	8805: {ratio, []string{"SCALEFACTOR", "SCALEFACTORATNATURALORIGIN"}},
	8806: {length, []string{"FALSEEASTING"}},
	8807: {length, []string{"FALSENORTHING"}},
	8811: {angle, []string{"LATITUDEOFCENTER", "LATITUDEOFPROJECTIONCENTRE"}},
	8812: {angle, []string{"LONGITUDEOFCENTER", "LONGITUDEOFPROJECTIONCENTRE"}},
	8813: {angle, []string{"AZIMUTH", "AZIMUTHATPROJECTIONCENTRE", "AZIMUTHOFINITIALLINE"}},
	8814: {angle, []string{"RECTIFIEDGRIDANGLE", "ANGLEFROMRECTIFIEDTOSKEWGRID"}},
	8815: {ratio, []string{"SCALEFACTOR", "SCALEFACTORATPROJECTIONCENTRE", "SCALEFACTORONINITIALLINE"}},
	8816: {length, []string{"FALSEEASTING", "EASTINGATPROJECTIONCENTRE"}},
	8817: {length, []string{"FALSENORTHING", "NORTHINGATPROJECTIONCENTRE"}},
	8821: {angle, []string{"LATITUDEOFORIGIN", "LATITUDEOFFALSEORIGIN", "LATITUDEOFCENTER"}},
	8822: {angle, []string{"CENTRALMERIDIAN", "LONGITUDEOFFALSEORIGIN", "LONGITUDEOFCENTER"}},
	8823: {angle, []string{"STANDARDPARALLEL1", "LATITUDEOF1STSTANDARDPARALLEL"}},
	8824: {angle, []string{"STANDARDPARALLEL2", "LATITUDEOF2NDSTANDARDPARALLEL"}},
	8826: {length, []string{"FALSEEASTING", "EASTINGATFALSEORIGIN"}},
	8827: {length, []string{"FALSENORTHING", "NORTHINGATFALSEORIGIN"}},
}

// methodNames are the plain names of methods in WKT. ESRI has one name for both
// Lambert conics.
var methodNames = map[string]method{
	"TRANSVERSEMERCATOR": transverse, "GAUSSKRUGER": transverse, "TRANSVERSEMERCATORCOMPLEX": transverse,
	"LAMBERTCONFORMALCONIC2SP": conic2, "LAMBERTCONICCONFORMAL2SP": conic2, "LAMBERTCONFORMALCONIC": conic2,
	"LAMBERTCONFORMALCONIC1SP": conic1, "LAMBERTCONICCONFORMAL1SP": conic1,
	"ALBERS": equalArea, "ALBERSCONICEQUALAREA": equalArea, "ALBERSEQUALAREA": equalArea,
	"HOTINEOBLIQUEMERCATOR": obliqueA, "HOTINEOBLIQUEMERCATORAZIMUTHNATURALORIGIN": obliqueA, "HOTINEOBLIQUEMERCATORVARIANTA": obliqueA,
	"HOTINEOBLIQUEMERCATORAZIMUTHCENTER": obliqueB, "HOTINEOBLIQUEMERCATORVARIANTB": obliqueB, "OBLIQUEMERCATOR": obliqueB,
	"MERCATORAUXILIARYSPHERE": webMercator, "POPULARVISUALISATIONPSEUDOMERCATOR": webMercator,
}

// tolerance is how far the i-th numbers of two equal projections may lie apart:
// a billionth of a degree is a tenth of a millimeter. 0 = it is a length.
func tolerance(m method, i int) float64 {
	codes := parameterCodes[m]
	if i >= len(codes) {
		return 1e-12
	}
	switch parameters[codes[i]].counts {
	case angle:
		return 1e-9
	case ratio:
		return 1e-11
	}
	return 0
}

// parameter finds a parameter by the first of its plain names that is there.
func (n *node) parameter(names ...string) (*node, bool) {
	for _, name := range names {
		for _, p := range n.nodes {
			if p.word == "PARAMETER" && plain(p.name()) == name {
				return p, true
			}
		}
	}
	return nil, false
}

// readParameters takes the numbers of the projection; one that is not known must
// say nothing.
func (s *System) readParameters(n *node) string {
	m := s.definition.method
	var used []*node
	for i, code := range parameterCodes[m] {
		p, ok := n.parameter(parameters[code].names...)
		switch {
		case ok && len(p.numbers) > 0:
			used = append(used, p)
			v, detail := s.inBaseUnits(p, parameters[code].counts)
			if detail != "" {
				return detail
			}
			s.definition.numbers[i] = v
		case code == 8814: // the grid is turned by the azimuth where nothing else is said
			s.definition.numbers[i] = s.definition.numbers[i-1]
		case m != webMercator:
			return fmt.Sprintf("the parameter %s of the projection is missing", strings.ToLower(parameters[code].names[0]))
		}
	}
	for _, p := range n.nodes {
		if p.word != "PARAMETER" || slices.Contains(used, p) {
			continue
		}
		v, ok := p.number(0)
		isScale := plain(p.name()) == "SCALEFACTOR" && v == 1
		isOrigin := m == conic1 && plain(p.name()) == "STANDARDPARALLEL1" && v == s.definition.numbers[0]
		if !ok || v != 0 && !isScale && !isOrigin {
			return fmt.Sprintf("the parameter %.60q of the projection is not known here", p.name())
		}
	}
	return s.definition.sane()
}

// inBaseUnits gives degrees, meters or a plain number.
func (s *System) inBaseUnits(p *node, counts quantity) (v float64, detail string) {
	v, _ = p.number(0)
	switch counts {
	case angle:
		if u, ok := p.find("ANGLEUNIT", "UNIT").number(0); ok && !near(u, math.Pi/180, 1e-10) {
			return 0, "a parameter is not in degrees"
		}
	case length:
		if u, ok := p.find("LENGTHUNIT", "UNIT").number(0); ok {
			i := slices.IndexFunc(units, func(unit Unit) bool { return near(u, unit.Meters, 1e-9) })
			if i < 0 {
				return 0, "a parameter is not in meters or feet"
			}
			return v * units[i].Meters, ""
		}
		v *= s.Unit.Meters
	}
	return v, ""
}

// sane refuses numbers that no projection on earth has, and writes the others in
// one way: the smaller standard parallel first, since their order means nothing,
// and azimuths between -180 and 180.
func (d *definition) sane() string {
	for i, code := range parameterCodes[d.method] {
		v := d.numbers[i]
		switch p := parameters[code]; {
		case d.method == webMercator && v != 0:
			return "a Web Mercator with unusual parameters"
		case p.counts == angle && !(math.Abs(v) <= 360), p.counts == ratio && !(v > 0.5 && v < 2), p.counts == length && !(math.Abs(v) <= beyondMeters),
			strings.HasPrefix(p.names[0], "LATITUDE") && !(math.Abs(v) <= 90), strings.HasPrefix(p.names[0], "STANDARD") && !(math.Abs(v) < 89):
			return "a parameter of the projection is beyond its range"
		}
	}
	n := &d.numbers
	switch d.method {
	case conic2, equalArea:
		if n[2] > n[3] {
			n[2], n[3] = n[3], n[2]
		}
		if math.Abs(n[2]+n[3]) < 1e-6 {
			return "a cone without a tip"
		}
	case obliqueA, obliqueB:
		n[2], n[3] = math.Remainder(n[2], 360), math.Remainder(n[3], 360)
		if math.Abs(n[2]-n[3]) > 1 { // some programs lose the angle of the grid
			return "the azimuth of the projection and the angle of its grid do not fit together"
		}
		fallthrough
	case conic1:
		if math.Abs(n[0]) < 1e-6 || math.Abs(n[0]) > 89 {
			return "a projection round the equator or a pole"
		}
	}
	return ""
}
