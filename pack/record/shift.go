package record

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/project"

	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/words"
)

// Shift is a datum shift that the job asks for: from NAD83(2011) to WGS 84, by
// [geodesic.FromNAD83].
type Shift struct {
	Epoch float64 // decimal year of the place on WGS 84
	Units string  // "us" or "metric", of its length in words; "" = us

	applied bool
	stated  string // the datum as the record itself states it; "" = it does not
}

// shiftFrom is the one datum whose published parameters are here.
const shiftFrom = "NAD83(2011)"

// Epochs that a shift is computed for: years around those in which the parameters
// were found (the project's own choice, no source).
const (
	firstEpoch = 2000
	lastEpoch  = 2050
)

var shiftText = regexp.MustCompile(`(?i)^\s*(.+?)\s+to\s+(.+?)(?:\s+at\s+(.*?))?\s*$`)

// ParseShift reads "NAD83(2011) to WGS 84 at 2026.0". The epoch has no default:
// that of the day would give another pack each year without a word in the job.
func ParseShift(stated, units string) (*Shift, error) {
	const want = `want "NAD83(2011) to WGS 84 at 2026.0"`
	m := shiftText.FindStringSubmatch(stated)
	if m == nil {
		return nil, fmt.Errorf("shift = %s: %s", Quote(stated), want)
	}
	switch from, to := plainDatum(m[1]), plainDatum(m[2]); {
	case from == "NAD83":
		return nil, fmt.Errorf("shift = %s: NAD83 has several realizations, whose numbers lie up to a meter apart; only NAD83(2011) "+
			"is known here. Ask the record's owner which it is, and where it is that one, %s", Quote(stated), want)
	case from != shiftFrom:
		return nil, fmt.Errorf("shift = %s: a shift from %s is not known here, only from NAD83(2011): %s, or convert the file", Quote(stated), Quote(m[1]), want)
	case to != "WGS84":
		return nil, fmt.Errorf("shift = %s: a shift to %s is not known here, only to WGS 84: %s", Quote(stated),
			Quote(m[2]), want)
	case m[3] == "":
		return nil, fmt.Errorf("shift = %s: the epoch is missing: NAD83(2011) and WGS 84 move apart by about an inch a year. "+
			"Write the decimal year of the visit: %s", Quote(stated), want)
	}
	epoch, err := strconv.ParseFloat(m[3], 64)
	if err != nil || !(epoch >= firstEpoch && epoch <= lastEpoch) {
		return nil, fmt.Errorf("shift = %s: %s is no epoch: write a decimal year from %d to %d, such as 2026.0",
			Quote(stated), Quote(m[3]), firstEpoch, lastEpoch)
	}
	return &Shift{Epoch: epoch, Units: units}, nil
}

// ownEpoch is the epoch that numbers on NAD83(2011) have: it is part of its name.
var ownEpoch = regexp.MustCompile(`\(?EPOCH:?2010(\.0*)?\)?$`)

// plainDatum gives the name of a datum without blanks, dashes and case.
func plainDatum(name string) string {
	plain := strings.NewReplacer(" ", "", "-", "", "_", "").Replace(strings.ToUpper(name))
	plain = ownEpoch.ReplaceAllString(plain, "")
	switch plain {
	case "NAD1983":
		return "NAD83"
	case "NAD832011", "NAD19832011", "NAD1983(2011)":
		return shiftFrom
	}
	return plain
}

// Fits refuses a shift of coordinates that the record states to be on another
// datum. NAD83 alone may be NAD83(2011).
func (s *Shift) Fits(datum string) error {
	switch plainDatum(datum) {
	case "", "NAD83", shiftFrom:
		return nil
	}
	return fmt.Errorf("its shift is from NAD83(2011), and its coordinates are stated to be on %s: take out the one that is wrong", Quote(datum))
}

// apply moves the geometries of an overlay and states the shift in its datum.
func (s *Shift) apply(o *Overlay) error {
	if err := s.Fits(o.Datum); err != nil {
		return fmt.Errorf("overlay %s: %w", o.File, err)
	}
	asked := *s
	asked.stated, asked.applied = o.Datum, true
	o.decimalsRead, o.decimalsKnown = o.decimals()
	o.Shift = &asked
	if len(o.Features) == 0 {
		o.Datum = words.Say("datum.shifted", "from", shiftFrom, "epoch", s.epoch(), "moved", "")
		return nil
	}
	b := o.Bounds()
	lon, lat := b.Center()
	o.Datum = words.Say("datum.shifted", "from", shiftFrom, "epoch", s.epoch(),
		"moved", ", about "+s.moved(orb.Point{lon, lat}))
	move := func(p orb.Point) orb.Point {
		p = geodesic.FromNAD83(p, s.Epoch)
		return orb.Point{math.Round(p[0]*1e9) / 1e9, math.Round(p[1]*1e9) / 1e9} // a tenth of a millimeter
	}
	for i := range o.Features {
		o.Features[i].Geometry = project.Geometry(orb.Clone(o.Features[i].Geometry), move)
	}
	return nil
}

func (s *Shift) epoch() string {
	text := strconv.FormatFloat(s.Epoch, 'f', -1, 64)
	if !strings.Contains(text, ".") {
		text += ".0"
	}
	return text
}

// moved is how far and in which direction a place moves.
func (s *Shift) moved(p orb.Point) string {
	by := geodesic.NAD83Shift(p, s.Epoch)
	return side(-by.East, "EAST", "WEST", s.Units) + " and " + side(-by.North, "NORTH", "SOUTH", s.Units)
}

// side is a length toward one of two sides.
func side(m float64, plus, minus, units string) string {
	if m < 0 {
		plus, m = minus, -m
	}
	return LengthsIn(units)(m) + " " + plus
}

// findings report the shift, and a place where it is not valid.
func (s *Shift) findings(m Meta, site orb.Point) []Finding {
	if !geodesic.OnNAD83(site) {
		return []Finding{{"datum", Fault, m.File, 0, words.Say("datum.shift_elsewhere", "from", shiftFrom)}}
	}
	told := Finding{"datum", Note, m.File, 0, words.Say("datum.shifted_how", "datum", m.Datum)}
	switch plainDatum(s.stated) {
	case "":
		told.Severity, told.Detail = Warning, told.Detail+". "+words.Say("datum.shift_unstated", "from", shiftFrom)
	case "NAD83":
		told.Severity, told.Detail = Warning, told.Detail+". "+words.Say("datum.shift_unrealized",
			"from", shiftFrom, "stated", s.stated, "off", roughly(3, 1, s.Units))
	}
	return []Finding{told}
}
