package intake

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/vector"
	"groundsheet/tiles/words"
)

// nearby is how far from the dig area a record is still taken to belong to the job,
// in meters, as the check of a job's records has it.
const nearby = 5_000

// tried is how many rows are placed to see whether a system fits.
const tried = 200

// distanceOf is about the meters from a place to the dig area; 0 within its box.
func (s Site) distanceOf(p orb.Point) float64 {
	in := orb.Point{min(max(p[0], s.Ground.Min[0]), s.Ground.Max[0]), min(max(p[1], s.Ground.Min[1]), s.Ground.Max[1])}
	return geodesic.Distance(p, in)
}

// placeWord is what a column's name says of the place: latitude, longitude, easting,
// northing, zone, x or y; else "".
func placeWord(name string) string {
	var rest []string
	for _, word := range record.Tokens(name) {
		switch word {
		case "lat", "latitude":
			return "latitude"
		case "lon", "long", "lng", "longitude":
			return "longitude"
		case "utme", "east", "easting":
			return "easting"
		case "utmn", "north", "northing":
			return "northing"
		case "zone":
			return "zone"
		case "utm", "coord", "coordinate", "point", "wgs", "nad", "grid", "m", "ft", "feet", "foot", "meter", "us", "survey", "dd", "deg":
		default:
			if _, err := strconv.Atoi(word); err != nil {
				rest = append(rest, word)
			}
		}
	}
	if len(rest) == 1 {
		return map[string]string{"x": "x", "y": "y", "e": "easting", "n": "northing"}[rest[0]]
	}
	return ""
}

// located is where the columns of a table hold the place.
type located struct {
	columns map[string]int // meaning -> column
	sure    Sure
	why     string
}

// placeColumns finds the columns of the place: as answered, by their names, else
// by their numbers.
func (p *proposer) placeColumns(s vector.Sheet) (located, bool) {
	l := located{columns: map[string]int{}, sure: Stated, why: words.Say("intake.header")}
	for _, meaning := range record.PlaceMeanings() {
		if i := slices.Index(s.Header, p.answers["column."+meaning]); i >= 0 {
			l.columns[meaning] = i
		}
	}
	if l.whole() {
		l.sure, l.why = Answered, words.Say("intake.answered")
		return l, true
	}
	byWord := map[string]int{}
	for i, name := range s.Header {
		word := placeWord(name)
		if _, taken := byWord[word]; !taken {
			byWord[word] = i
		}
	}
	has := func(words ...string) bool {
		return !slices.ContainsFunc(words, func(w string) bool { _, ok := byWord[w]; return !ok })
	}
	switch {
	case has("latitude", "longitude"):
		l.columns = map[string]int{"latitude": byWord["latitude"], "longitude": byWord["longitude"]}
		p.unswap(s, &l)
	case has("easting", "northing"):
		l.columns = map[string]int{"easting": byWord["easting"], "northing": byWord["northing"]}
		if has("zone") {
			l.columns["zone"] = byWord["zone"]
		}
		p.asDegrees(s, &l)
	case has("x", "y"):
		l = p.byNumbers(s, [][2]int{{byWord["x"], byWord["y"]}, {byWord["y"], byWord["x"]}})
	default:
		l = p.byNumbers(s, pairs(s))
	}
	return l, l.whole()
}

func (l located) whole() bool { return l.degrees() || l.grid() }

func (l located) degrees() bool {
	_, a := l.columns["latitude"]
	_, b := l.columns["longitude"]
	return a && b
}

func (l located) grid() bool {
	_, a := l.columns["easting"]
	_, b := l.columns["northing"]
	return a && b
}

// unswap exchanges latitude and longitude where only so the rows lie near the job.
func (p *proposer) unswap(s vector.Sheet, l *located) {
	lat, lon := l.columns["latitude"], l.columns["longitude"]
	straight, _ := p.near(s, positionsOf(s, l.columns))
	turned := map[string]int{"latitude": lon, "longitude": lat}
	other, of := p.near(s, positionsOf(s, turned))
	if straight*2 < of && other*2 >= of && of > 0 {
		*l = located{turned, Fits, words.Say("intake.swapped", "n", other, "of", of, "straight", straight)}
	}
}

// asDegrees takes columns with the names of a grid for latitude and longitude where they
// hold degrees that put most rows near the job.
func (p *proposer) asDegrees(s vector.Sheet, l *located) {
	if !inDegreeRange(s, *l) {
		return
	}
	columns := map[string]int{"latitude": l.columns["northing"], "longitude": l.columns["easting"]}
	if n, of := p.near(s, positionsOf(s, columns)); n*2 >= of && n > 0 {
		*l = located{columns, Fits, words.Say("intake.degrees_in_grid", "n", n, "of", of)}
	}
}

// inDegreeRange says that eastings and northings are so small that they may be degrees.
func inDegreeRange(s vector.Sheet, l located) bool {
	return typical(s, l.columns["easting"]) <= 180 && typical(s, l.columns["northing"]) <= 90
}

func positionsOf(s vector.Sheet, columns map[string]int) vector.Positions {
	name := func(meaning string) string {
		if i, ok := columns[meaning]; ok {
			return s.Header[i]
		}
		return ""
	}
	return vector.Positions{Latitude: name("latitude"), Longitude: name("longitude"), Easting: name("easting"),
		Northing: name("northing"), Zone: name("zone")}
}

// near counts the first rows that lie near the job, of those that have a place.
func (p *proposer) near(s vector.Sheet, at vector.Positions) (n, of int) {
	at.Comma = p.out.meta.Decimal == ","
	s.Rows = s.Rows[:min(len(s.Rows), tried)]
	s, err := s.Locate(at)
	if err != nil {
		return 0, 0
	}
	for _, row := range s.Rows {
		if row.Fault != "" {
			continue
		}
		of++
		if p.site.distanceOf(row.Point) <= nearby {
			n++
		}
	}
	return n, of
}

// fit is a zone and a unit that put rows near the job.
type fit struct {
	zone     string
	unit     string  // "m", "ft" or "us survey ft"
	meters   float64 // of the unit
	near, of int
}

// gridUnits are the units that eastings and northings come in.
var gridUnits = []fit{{unit: "m", meters: 1}, {unit: "us survey ft", meters: measure.SurveyFoot}, {unit: "ft", meters: measure.Foot}}

// gridFits tries the UTM zones round the job, and units, unless one is stated: those
// that put at least half of the rows near the job, best first.
func (p *proposer) gridFits(s vector.Sheet, columns map[string]int, zone string, unit float64) (fits []fit) {
	zones := []string{zone}
	if _, inTable := columns["zone"]; zone == "" && !inTable {
		zones = p.site.zones()
	}
	for _, z := range zones {
		for _, u := range gridUnits {
			if unit != 0 && u.meters != unit {
				continue
			}
			at := positionsOf(s, columns)
			at.UTM, at.Unit = z, u.meters
			u.zone = z
			if u.near, u.of = p.near(s, at); u.near > 0 && u.near*2 >= u.of {
				fits = append(fits, u)
			}
		}
	}
	slices.SortStableFunc(fits, func(a, b fit) int { return b.near - a.near })
	return fits
}

// zones are the UTM zone of the job and those beside it.
func (s Site) zones() (all []string) {
	half := "N"
	middle := s.Ground.Center()
	if middle[1] < 0 {
		half = "S"
	}
	own := int(math.Floor((middle[0]+180)/6)) % 60
	for _, d := range []int{0, 1, -1} {
		all = append(all, fmt.Sprintf("%d%s", (own+d+60)%60+1, half))
	}
	return all
}

// zoneInName is a UTM zone in a column's name: "UTM 13N easting".
var zoneInName = regexp.MustCompile(`(?i)(?:^|[^0-9])([1-9]|[1-5][0-9]|60) ?([NS])(?:$|[^A-Za-z])`)
