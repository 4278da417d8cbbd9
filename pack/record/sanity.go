package record

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// suspectUnits looks at the depths of a table as a whole: a median that no
// utility has points at a wrong unit (limits: common practice, no source).
func (r *tableReader) suspectUnits(features []geojson.Feature) []Finding {
	_, has := r.uses["depth"]
	var depths []float64
	tenths, twoDigits := true, false
	for _, f := range features {
		m := Number(f.Properties, "depth_m")
		if m == nil {
			continue
		}
		depths = append(depths, *m)
		text, _ := f.Properties["depth_as_written"].(string)
		_, fraction, _ := strings.Cut(strings.Fields(text)[0], ".")
		tenths = tenths && slices.Contains([]string{"", "0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11", "00", "01", "02", "03", "04", "05", "06", "07", "08", "09"}, fraction)
		twoDigits = twoDigits || fraction == "10" || fraction == "11"
	}
	if !has || len(depths) == 0 {
		return nil
	}
	slices.Sort(depths)
	median, unit := depths[len(depths)/2], r.units["depth"].name
	warn := func(detail string) []Finding {
		return []Finding{{"units", Warning, r.file, 1, detail}}
	}
	switch {
	case unit == "in" && median < 10*measure.Inch:
		return warn(words.Say("plausible.inches", "median", fmt.Sprintf("%.1f in", median/measure.Inch)))
	case unit == "ft" && median > 20*measure.Foot:
		return warn(words.Say("plausible.feet", "median", fmt.Sprintf("%.0f ft", median/measure.Foot)))
	case unit == "m" && median > 2.5:
		return warn(words.Say("plausible.meters", "median", fmt.Sprintf("%.1f m", median)))
	case unit == "ft" && tenths && twoDigits:
		return warn(words.Say("plausible.fractions"))
	}
	return nil
}

// SanityOptions are the limits of [CheckSanity]. The zero value is fine.
type SanityOptions struct {
	Far   float64 // metres from the site beyond which a record is far away; 0 = 5,000
	Year  float64 // decimal year for the datum's shift; 0 = 2026
	Units string  // "us" or "metric", how lengths are told; "" = us
}

// FewDecimals is what coordinates in degrees need to hold a reading: seven
// decimals are 11 mm of latitude, six are 11 cm.
const FewDecimals = 7

// CheckSanity looks at an overlay with the site known: swapped axes, places far from
// the job, coordinates too coarse, a datum other than WGS 84.
func CheckSanity(o Overlay, site orb.Bound, opts SanityOptions) []Finding {
	if opts.Far == 0 {
		opts.Far = 5_000
	}
	if opts.Year == 0 {
		opts.Year = 2026
	}
	findings := datumFindings(o.Meta, site.Center(), opts)
	var far, swapped, coarse []string
	fewest := FewDecimals
	for _, f := range o.Features {
		b := f.Geometry.Bound()
		if away(b, site) > opts.Far {
			turned := orb.Bound{Min: orb.Point{b.Min[1], b.Min[0]}, Max: orb.Point{b.Max[1], b.Max[0]}}
			if math.Abs(b.Min[0]) <= 90 && math.Abs(b.Max[0]) <= 90 && away(turned, site) <= opts.Far {
				swapped = append(swapped, f.Place)
			} else {
				far = append(far, f.Place)
			}
		}
		if n := Number(f.Properties, "decimals"); n != nil && *n < FewDecimals {
			coarse, fewest = append(coarse, f.Place), min(fewest, int(*n))
		}
	}
	in := LengthsIn(opts.Units)
	add := func(kind string, places []string, say string) {
		if len(places) > 0 {
			findings = append(findings, Finding{kind, Warning, o.File, 0, say})
		}
	}
	add("swapped axes", swapped, words.Say("finding.swapped", "n", len(swapped), "which", Several(swapped)))
	add("far away", far, words.Say("finding.far", "n", len(far), "which", Several(far), "far", in(opts.Far)))
	if !o.fromTable() {
		findings = append(findings, o.suspectDepths(in)...)
		if most, told := o.decimals(); told && most < FewDecimals {
			findings = append(findings, Finding{"coarse", Warning, o.File, 0, words.Say("plausible.coarse", "what", coarseWords(most, in))})
		}
		return findings
	}
	add("coarse", coarse, words.Say("finding.coarse", "n", len(coarse), "which", Several(coarse), "what", coarseWords(fewest, in)))
	return findings
}

func coarseWords(decimals int, in func(metres float64) string) string {
	step := math.Pow(10, -float64(decimals)) * math.Pi / 180 * 6378137
	return words.Say("plausible.decimals", "n", decimals, "step", in(step), "need", FewDecimals)
}

// away is about the metres between two boxes; 0 when they meet.
func away(b, site orb.Bound) float64 {
	nearest := orb.Point{min(max(b.Center()[0], site.Min[0]), site.Max[0]), min(max(b.Center()[1], site.Min[1]), site.Max[1])}
	here := orb.Point{min(max(nearest[0], b.Min[0]), b.Max[0]), min(max(nearest[1], b.Min[1]), b.Max[1])}
	return geodesic.Distance(nearest, here)
}

func Several(places []string) string {
	if len(places) > 5 {
		return words.Say("finding.more", "items", strings.Join(places[:5], ", "))
	}
	return strings.Join(places, ", ")
}

// datumFindings tells what a datum other than WGS 84 means at the site. The
// numbers are carried as they are, or shifted where the job asks for it.
func datumFindings(m Meta, site orb.Point, opts SanityOptions) []Finding {
	if m.Shift != nil {
		return m.Shift.findings(m, site)
	}
	plain := plainDatum(m.Datum)
	warn := func(detail string) []Finding { return []Finding{{"datum", Warning, m.File, 0, detail}} }
	switch {
	case plain == "", m.Datum == words.Say("datum.by_format", "datum", "WGS 84"): // a format implies it, whatever was put in
		return []Finding{{"datum", Note, m.File, 0, words.Say("datum.not_stated", "off", roughly(3, 1, opts.Units))}}
	case plain == "WGS84" || strings.HasPrefix(plain, "WGS84(") || strings.HasPrefix(plain, "ITRF"):
		return nil
	case strings.HasPrefix(plain, "NAD83"):
		return warn(offTrue(m.Datum, geodesic.NAD83Shift(site, opts.Year), opts))
	case strings.HasPrefix(plain, "NAD27"):
		return warn(words.Say("datum.nad27", "off", roughly(30, 10, opts.Units)))
	}
	return warn(words.Say("datum.unknown", "datum", Quote(m.Datum)))
}

// roughly is a length known in one digit, a round number in either unit.
func roughly(feet, metres float64, units string) string {
	if units == "metric" {
		return LengthsIn(units)(metres)
	}
	return LengthsIn(units)(feet * measure.Foot)
}

// offTrue tells on which side of what is drawn the true line lies, in words
// that cannot be turned round.
func offTrue(datum string, drawn geodesic.Shift, opts SanityOptions) string {
	units := cmp.Or(opts.Units, "us")
	return words.Say("datum.nad83", "datum", datum, "year", fmt.Sprintf("%.1f", opts.Year),
		"drawn", side(drawn.East, "east", "west", units)+" and "+side(drawn.North, "north", "south", units),
		"true", side(-drawn.East, "EAST", "WEST", units)+" and "+side(-drawn.North, "NORTH", "SOUTH", units))
}
