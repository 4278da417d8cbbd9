package record

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/project"

	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// SanityOptions are the limits of [CheckSanity]. The zero value is fine.
type SanityOptions struct {
	Far   float64 // meters from the dig area beyond which a record is far away; 0 = 5,000
	Year  float64 // decimal year for the datum's shift; 0 = 2026
	Units string  // "us" or "metric", of lengths in findings; "" = us
}

// fewDecimals is what coordinates in degrees need to hold a reading: seven
// decimals are 11 mm of latitude, six are 11 cm.
const fewDecimals = 7

// CheckSanity finds what is implausible in a record for a dig area: swapped axes,
// places far away, coarse coordinates, depths in a wrong unit, a datum other than
// WGS 84.
func CheckSanity(o Overlay, area orb.Bound, opts SanityOptions) []Finding {
	opts.Far, opts.Year = cmp.Or(opts.Far, 5_000), cmp.Or(opts.Year, 2026)
	findings := o.baseFindings(opts)
	if len(findings) == 0 {
		findings = datumFindings(o.Meta, area.Center(), opts)
	}
	var far, swapped, coarse []string
	fewest := fewDecimals
	for _, f := range o.Features {
		b := f.Geometry.Bound()
		if distance(b, area) > opts.Far {
			turned := orb.Bound{Min: orb.Point{b.Min[1], b.Min[0]}, Max: orb.Point{b.Max[1], b.Max[0]}}
			if math.Abs(b.Min[0]) <= 90 && math.Abs(b.Max[0]) <= 90 && distance(turned, area) <= opts.Far {
				swapped = append(swapped, f.Place)
			} else {
				far = append(far, f.Place)
			}
		}
		if n := Number(f.Properties, "decimals"); n != nil && *n < fewDecimals {
			coarse, fewest = append(coarse, f.Place), min(fewest, int(*n))
		}
	}
	in := LengthsIn(opts.Units)
	warn := func(kind string, places []string, say string) {
		if len(places) > 0 {
			findings = append(findings, Finding{kind, Warning, o.File, 0, say})
		}
	}
	warn("swapped axes", swapped, words.Say("finding.swapped", "n", len(swapped), "which", Several(swapped)))
	warn("far away", far, words.Say("finding.far", "n", len(far), "which", Several(far), "far", in(opts.Far)))
	if o.fromTable() {
		warn("coarse", coarse, words.Say("finding.coarse", "n", len(coarse), "which", Several(coarse),
			"what", coarseText(fewest, in)))
		return findings
	}
	findings = append(findings, o.suspectDepths(in)...)
	if most, ok := o.decimals(); ok && most < fewDecimals {
		findings = append(findings, Finding{"coarse", Warning, o.File, 0,
			words.Say("plausible.coarse", "what", coarseText(most, in))})
	}
	return findings
}

func coarseText(decimals int, in func(meters float64) string) string {
	step := math.Pow(10, -float64(decimals)) * math.Pi / 180 * 6378137
	return words.Say("plausible.decimals", "n", decimals, "step", in(step), "need", fewDecimals)
}

// distance is about the meters between two boxes; 0 when they meet.
func distance(a, b orb.Bound) float64 {
	clamp := func(p orb.Point, to orb.Bound) orb.Point {
		return orb.Point{min(max(p[0], to.Min[0]), to.Max[0]), min(max(p[1], to.Min[1]), to.Max[1])}
	}
	inB := clamp(a.Center(), b)
	return geodesic.Distance(inB, clamp(inB, a))
}

// fewNumbers is how many coordinates an overlay has at least before their
// decimals say anything: one that ends in zeros is chance.
const fewNumbers = 4

// decimals is the largest number of decimals of any coordinate of the record
// itself; ok is false where there are too few coordinates to tell.
func (o Overlay) decimals() (most int, ok bool) {
	if o.Shift != nil && o.Shift.applied {
		return o.decimalsRead, o.decimalsKnown
	}
	n := 0
	count := func(p orb.Point) orb.Point {
		for _, v := range p {
			n++
			_, after, _ := strings.Cut(strconv.FormatFloat(v, 'f', -1, 64), ".")
			most = max(most, len(after))
		}
		return p
	}
	for _, f := range o.Features {
		if Text(f.Properties, "position_from") == "receiver" { // of a field book: its digits are the receiver's
			continue
		}
		project.Geometry(orb.Clone(f.Geometry), count)
	}
	return most, n >= fewNumbers
}

// fromTable reports whether the features come from a table, whose reader checks
// coordinates and units cell by cell.
func (o Overlay) fromTable() bool {
	return slices.ContainsFunc(o.Features, func(f geojson.Feature) bool { _, ok := f.Properties["decimals"]; return ok })
}

// deepest is a depth beyond which a unit is suspect, in meters; 40 ft (common
// practice, no source): few lines that a crew looks for lie deeper.
const deepest = 40 * measure.Foot

// suspectDepths checks the depths of features that no table gave: each that is
// hardly possible, and those in inches whose median points at a wrong unit.
func (o Overlay) suspectDepths(in func(meters float64) string) (all []Finding) {
	var inches []float64
	var far []string
	for _, f := range o.Features {
		m := Number(f.Properties, "depth_m")
		if m == nil {
			continue
		}
		if Number(f.Properties, "depth_in") != nil {
			inches = append(inches, *m)
		}
		if *m > deepest {
			far = append(far, f.Place)
		}
	}
	if len(far) > 0 {
		say := words.Say("plausible.deep", "n", len(far), "which", Several(far), "limit", in(deepest))
		all = append(all, Finding{"units", Warning, o.File, 0, say})
	}
	if say := shallowInches(inches); say != "" {
		all = append(all, Finding{"units", Warning, o.File, 0, say})
	}
	return all
}

// shallowInches warns of depths in inches, given in meters, whose median is as
// small as depths in feet would be; else "".
func shallowInches(depths []float64) string {
	if m := median(depths); m < 10*measure.Inch {
		return words.Say("plausible.inches", "median", fmt.Sprintf("%.1f in", m/measure.Inch))
	}
	return ""
}

// median is infinite of nothing.
func median(values []float64) float64 {
	if len(values) == 0 {
		return math.Inf(1)
	}
	return slices.Sorted(slices.Values(values))[len(values)/2]
}

// suspectUnits checks the depths of a table as a whole: a median that no
// utility has points at a wrong unit (limits: common practice, no source).
func (r *tableReader) suspectUnits(features []geojson.Feature) []Finding {
	var depths []float64
	twelfths, twoDigits := true, false
	for _, f := range features {
		m := Number(f.Properties, "depth_m")
		if m == nil {
			continue
		}
		depths = append(depths, *m)
		text, _ := f.Properties["depth_as_written"].(string)
		_, fraction, _ := strings.Cut(strings.Fields(text)[0], ".")
		n, err := strconv.Atoi("0" + fraction)
		twelfths = twelfths && len(fraction) <= 2 && err == nil && n < 12
		twoDigits = twoDigits || fraction == "10" || fraction == "11"
	}
	if _, ok := r.columns["depth"]; !ok || len(depths) == 0 {
		return nil
	}
	say, m := "", median(depths)
	switch unit := r.units["depth"].name; {
	case unit == "in":
		say = shallowInches(depths)
	case unit == "ft" && m > 20*measure.Foot:
		say = words.Say("plausible.feet", "median", fmt.Sprintf("%.0f ft", m/measure.Foot))
	case unit == "m" && m > 2.5:
		say = words.Say("plausible.meters", "median", fmt.Sprintf("%.1f m", m))
	case unit == "ft" && twelfths && twoDigits:
		say = words.Say("plausible.fractions")
	}
	if say == "" {
		return nil
	}
	return []Finding{{"units", Warning, r.file, 1, say}}
}

// Several lists at most five places, and says that there are more.
func Several(places []string) string {
	if len(places) > 5 {
		return words.Say("finding.more", "items", strings.Join(places[:5], ", "))
	}
	return strings.Join(places, ", ")
}

// datumFindings says what a datum other than WGS 84 means at a place. The
// coordinates are used as they are, or shifted where the job asks for it.
func datumFindings(m Meta, place orb.Point, opts SanityOptions) []Finding {
	if m.Shift != nil {
		return m.Shift.findings(m, place)
	}
	say := ""
	switch plain := plainDatum(m.Datum); {
	case plain == "", m.Datum == words.Say("datum.by_format", "datum", "WGS 84"): // a format implies it, whatever was put in
		return []Finding{{"datum", Note, m.File, 0, words.Say("datum.not_stated", "off", roughly(3, 1, opts.Units))}}
	case plain == "WGS84" || strings.HasPrefix(plain, "WGS84(") || strings.HasPrefix(plain, "ITRF"):
		return nil
	case strings.HasPrefix(plain, "NAD83"):
		say = offsetText(m.Datum, geodesic.NAD83Shift(place, opts.Year), opts)
	case strings.HasPrefix(plain, "NAD27"):
		say = words.Say("datum.nad27", "off", roughly(30, 10, opts.Units))
	default:
		say = words.Say("datum.unknown", "datum", Quote(m.Datum))
	}
	return []Finding{{"datum", Warning, m.File, 0, say}}
}

// roughly is a length known to one digit, a round number in either unit.
func roughly(feet, meters float64, units string) string {
	if units == "metric" {
		return LengthsIn(units)(meters)
	}
	return LengthsIn(units)(feet * measure.Foot)
}

// offsetText says on which side of the drawn line the true one lies, in words
// that cannot be read the other way round.
func offsetText(datum string, drawn geodesic.Shift, opts SanityOptions) string {
	return words.Say("datum.nad83", "datum", datum, "year", fmt.Sprintf("%.1f", opts.Year),
		"drawn", side(drawn.East, "east", "west", opts.Units)+" and "+side(drawn.North, "north", "south", opts.Units),
		"true", side(-drawn.East, "EAST", "WEST", opts.Units)+" and "+side(-drawn.North, "NORTH", "SOUTH", opts.Units))
}
