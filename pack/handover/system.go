package handover

import (
	"cmp"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/project"

	"groundsheet/tiles/crs"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/words"
)

// Misuse is the kind of fault of options that do not fit together or the finds.
var Misuse = fault.Input("misuse")

func misuse(detail, remedy string) error {
	return &fault.Fault{Kind: Misuse, Detail: detail, Remedy: remedy}
}

// Ground says on which coordinate system finds are written. The zero value is WGS 84
// in degrees.
type Ground struct {
	system *crs.System // nil = degrees of WGS 84
	epoch  float64     // of the shift to NAD83(2011), decimal year; 0 = none
}

// The one shift there is, by EPSG:8970.
const shiftTo = "NAD83(2011)"

// Epochs of a shift, as in a job's own shift.
const firstEpoch, lastEpoch = 2000, 2050

var shiftText = regexp.MustCompile(`(?i)^WGS ?84 to NAD83\(2011\) at (\d{4}(?:\.\d+)?)$`)

// NewGround reads the number of a coordinate system in the EPSG registry, 0 = degrees
// of WGS 84, and what is to be done where its datum is not WGS 84: "WGS 84 to NAD83(2011)
// at 2026.9" shifts, "none" leaves the numbers as they are; for a system on WGS 84 it is
// "".
func NewGround(epsg int, shift string) (g Ground, err error) {
	const either = `say --shift "WGS 84 to NAD83(2011) at 2026.9" (the decimal year of the visit), or --shift none to write the numbers as they were recorded`
	shift = strings.TrimSpace(shift)
	if epsg == 0 {
		if shift != "" {
			return g, misuse("a shift is asked for, and no system to shift to", "give its number with --epsg, or leave --shift out")
		}
		return g, nil
	}
	s, err := crs.ByCode(epsg)
	if err != nil {
		return g, err
	}
	g.system = &s
	m := shiftText.FindStringSubmatch(shift)
	switch onNAD83 := s.Datum == "NAD83" || s.Datum == shiftTo; {
	case s.Datum == "WGS 84" && shift != "":
		return g, misuse(fmt.Sprintf("%s is on WGS 84, as the finds are", s.Text()), "leave --shift out")
	case s.Datum == "WGS 84", strings.EqualFold(shift, "none"):
		return g, nil
	case shift == "":
		remedy := either
		if !onNAD83 {
			remedy = "no shift to that datum is known here: say --shift none to write the numbers as they were recorded"
		}
		return g, misuse(fmt.Sprintf("%s is on %s, and the finds are on WGS 84, where nothing else is stated: "+
			"the two lie a meter or two apart, and nothing is shifted unasked", s.Text(), s.Datum), remedy)
	case m == nil:
		return g, misuse(fmt.Sprintf("--shift %.60q is not known", shift), either)
	case !onNAD83:
		return g, misuse(fmt.Sprintf("%s is on %s, and the shift is to %s", s.Text(), s.Datum, shiftTo), "take a system on NAD83 or NAD83(2011), or --shift none")
	}
	if g.epoch, err = strconv.ParseFloat(m[1], 64); err != nil || g.epoch < firstEpoch || g.epoch > lastEpoch {
		return g, misuse(fmt.Sprintf("--shift: %s is no epoch from %d to %d", m[1], firstEpoch, lastEpoch), either)
	}
	return g, nil
}

// degrees says whether finds are written in degrees.
func (g Ground) degrees() bool { return g.system == nil || g.system.Degrees() }

// code is the number of the system in the EPSG registry.
func (g Ground) code() int {
	if g.system == nil {
		return 4326
	}
	return g.system.Code
}

// wkt is the text of the system that goes along with its numbers.
func (g Ground) wkt() string {
	if g.system != nil {
		return g.system.WKT()
	}
	s, err := crs.ByCode(4326)
	if err != nil {
		panic("handover: " + err.Error()) // the table has it: a test writes it
	}
	return s.WKT()
}

// Text is the system in words, with its unit.
func (g Ground) Text() string {
	if g.system == nil {
		return words.Say("handover.wgs84")
	}
	text := g.system.Text()
	if g.system.Unit.Name != "" {
		text += " (" + words.Say("handover.unit", "meters", strconv.FormatFloat(g.system.Unit.Meters, 'g', 10, 64)) + ")"
	}
	return text
}

var blanks = strings.NewReplacer(" ", "", "-", "", "_", "")

// frames that differ from WGS 84 by centimeters.
var global = regexp.MustCompile(`^(WGS84|ITRF|IGS|$)`)

// moves says whether the shift is for a find: not where it is stated to be on another datum
// than WGS 84, such as NAD83 itself.
func (g Ground) moves(f Find) bool {
	return g.epoch != 0 && global.MatchString(strings.ToUpper(blanks.Replace(f.text("frame"))))
}

// datum says what the numbers of a find are on.
func (g Ground) datum(f Find) string {
	stated := f.text("frame")
	switch {
	case f.mixed:
		return words.Say("handover.datum_mixed")
	case g.moves(f):
		return words.Say("handover.datum_shifted", "to", shiftTo, "from", cmp.Or(stated, words.Say("handover.datum_unstated")), "epoch", plainNumber(g.epoch))
	case g.epoch != 0:
		return words.Say("handover.datum_there", "stated", stated)
	case stated != "":
		return words.Say("handover.datum_stated", "stated", stated)
	case g.system != nil && g.system.Datum != "WGS 84":
		return words.Say("handover.datum_unshifted", "datum", g.system.Datum)
	}
	return words.Say("handover.datum_taken")
}

// place gives the numbers of a find's shape on the system.
func (g Ground) place(f Find) (orb.Geometry, error) {
	if f.Geometry == nil || g.system == nil {
		return f.Geometry, nil
	}
	ok := true
	move := func(p orb.Point) orb.Point {
		if g.moves(f) && !slices.Contains(f.still, p) {
			ok = ok && geodesic.OnNAD83(p)
			by := geodesic.NAD83Shift(p, g.epoch)
			p = geodesic.At(p).Degrees(orb.Point{by.East, by.North})
		}
		q, fits := g.system.FromDegrees(p)
		ok = ok && fits && g.system.Used(p)
		if !g.system.Degrees() {
			q = orb.Point{math.Round(q[0]*1e4) / 1e4, math.Round(q[1]*1e4) / 1e4}
		}
		return q
	}
	out := project.Geometry(orb.Clone(f.Geometry), move)
	if !ok {
		return nil, misuse(fmt.Sprintf("%s %.40s lies where %s is not used", f.Kind, f.ID, g.system.Text()), "take the system of the place, such as its UTM zone")
	}
	return out, nil
}

// drawing is the ground of a drawing, which has no degrees: where finds are in degrees, the
// UTM zone of their middle on WGS 84.
func (g Ground) drawing(finds []Find) (Ground, error) {
	if !g.degrees() {
		return g, nil
	}
	for _, f := range finds {
		if f.Geometry == nil {
			continue
		}
		p := f.Geometry.Bound().Center()
		zone, south := min(60, max(1, int(math.Floor((p[0]+180)/6))+1)), 0
		if p[1] < 0 {
			south = 100
		}
		return NewGround(32600+zone+south, "")
	}
	return g, nil
}
