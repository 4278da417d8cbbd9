package intake

import (
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/crs"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/vector"
	"groundsheet/tiles/words"
)

// how takes over what was answered of the file as a whole: coordinate system, layer,
// encoding.
func (p *proposer) how() {
	if code, err := strconv.Atoi(strings.TrimSpace(p.answers["epsg"])); err == nil && code > 0 {
		if _, err := crs.ByCode(code); err == nil {
			p.out.meta.EPSG = code
		}
	}
	if layer := p.answers["layer"]; layer != "" {
		p.out.meta.Layers = []string{layer}
	}
	p.out.meta.Encoding = p.answers["encoding"]
	p.file.How = vector.How(p.out.meta.Form)
}

// systemItem asks for a coordinate system: of those that are used at the
// job, the ones that put the file there. Several may, such as the two feet, and then
// none of them is taken. none is why it is asked for where there are no fits.
func (p *proposer) systemItem(fits []crs.System, none string) {
	i := Item{Key: "epsg", Name: words.Say("intake.epsg"), Sure: Unknown, Must: true, Why: none}
	for _, s := range fits {
		i.Choices = append(i.Choices, Choice{strconv.Itoa(s.Code), s.Text()})
	}
	switch {
	case len(fits) == 1:
		i.Value, i.Sure, i.Why = strconv.Itoa(fits[0].Code), Fits, words.Say("intake.epsg_one")
	case len(fits) > 1:
		i.Why = words.Say("intake.epsg_several", "n", len(fits))
	}
	answer := strings.TrimSpace(p.answers["epsg"])
	if _, err := crs.Stated(answer); answer != "" && err != nil {
		i.Why, i.Value, i.Sure = err.Error(), "", Unknown
		p.out.Items = append(p.out.Items, i)
		return
	}
	if answer != "" && !slices.ContainsFunc(i.Choices, func(c Choice) bool { return c.Value == answer }) {
		i.Choices = nil // one that was typed
	}
	if i = p.add(i); p.out.meta.EPSG == 0 && i.Value != "" { // it fits, and nobody has answered yet
		p.out.meta.EPSG, _ = strconv.Atoi(i.Value)
		p.file.How.EPSG = p.out.meta.EPSG
	}
}

// systemDatum tells the datum that comes with a stated system.
func (p *proposer) systemDatum() {
	s, err := crs.ByCode(p.out.meta.EPSG)
	if err != nil {
		p.fail(err)
		return
	}
	p.told("datum", words.Say("intake.datum"), s.Datum, Answered, words.Say("intake.datum_epsg", "system", s.Text()))
}

// gridSystems are the systems used at the job in which the middle of the rows lies
// near it, in the unit that the columns' names state.
func (p *proposer) gridSystems(s vector.Sheet, columns map[string]int, unit string) (all []crs.System) {
	for _, f := range crs.Fitting(middleOf(s, columns["easting"], columns["northing"]), p.site.Ground.Center(), nearby) {
		if unit == "" || f.System.Unit.Name == unit || unit == "ft" && f.System.Unit.Name == "us survey ft" {
			all = append(all, f.System)
		}
	}
	return all
}

// middleOf are some rows round the middle one: a row with a slip must not decide.
func middleOf(s vector.Sheet, east, north int) (all []orb.Point) {
	const most, within = 20, 5_000.0
	e, n := typical(s, east), typical(s, north)
	for _, row := range s.Rows[:min(len(s.Rows), tried)] {
		if max(east, north) >= len(row.Cells) || len(all) == most {
			continue
		}
		x, ok1 := plainNumber(row.Cells[east])
		y, ok2 := plainNumber(row.Cells[north])
		if ok1 && ok2 && math.Abs(math.Abs(x)-e) < within && math.Abs(math.Abs(y)-n) < within {
			all = append(all, orb.Point{x, y})
		}
	}
	return all
}

// largestTried bounds the files that are read in one system after the other.
const largestTried = 8 << 20

// askSystem asks for the system of a file of shapes that brings none: those in which
// half of the shapes or more lie near the job.
func (p *proposer) askSystem(err error) bool {
	degreesAlways := slices.Contains([]string{".geojson", ".kml", ".kmz", ".gpx"}, ending(p.out.meta.File))
	if !errors.Is(err, vector.RuleProjection) || p.out.meta.EPSG != 0 || degreesAlways {
		return false
	}
	fits := SystemsFor(p.file, p.site.Ground.Center(), p.mostlyNear)
	if len(fits) == 0 {
		return false
	}
	p.systemItem(fits, "")
	return true
}

// SystemsFor are the systems used at a place in which a file is read so that near
// says yes to its features.
func SystemsFor(f vector.File, place orb.Point, near func([]geojson.Feature) bool) (fits []crs.System) {
	if len(f.Data) > largestTried {
		return nil
	}
	for _, s := range append(crs.At(place), inDegrees()...) {
		f.How.EPSG = s.Code
		if features, _, err := vector.Read(f, vector.Anything); err == nil && near(features) {
			fits = append(fits, s)
		}
	}
	return fits
}

// inDegrees are the systems of plain degrees that are asked about.
func inDegrees() (all []crs.System) {
	for _, code := range []int{4326, 6318, 4269} {
		if s, err := crs.ByCode(code); err == nil {
			all = append(all, s)
		}
	}
	return all
}

func (p *proposer) mostlyNear(features []geojson.Feature) bool {
	n := 0
	for _, f := range features {
		if f.Geometry != nil && p.site.boxDistance(f.Geometry.Bound()) <= nearby {
			n++
		}
	}
	return n > 0 && n*2 >= len(features)
}

// layer asks which layer is meant where a file has several; false while it is not
// answered.
func (p *proposer) layer() bool {
	layers, err := vector.Layers(p.file)
	if err != nil {
		p.fail(err)
		return false
	}
	if len(layers) < 2 {
		return true
	}
	i := Item{Key: "layer", Name: words.Say("intake.layer"), Sure: Unknown, Must: true, Why: words.Say("intake.layer_why", "n", len(layers))}
	for _, l := range layers {
		text := l.Name
		if l.Shapes != "" {
			text += " (" + l.Shapes + ")"
		}
		i.Choices = append(i.Choices, Choice{l.Name, text})
	}
	i.Choices = append(i.Choices, Choice{"*", words.Say("intake.layer_all")})
	return p.add(i).Value != ""
}

// encodings are those that are asked about, the usual first.
var encodings = []string{"windows-1252", "windows-1250", "macintosh", "CP437", "CP850"}

// encoding tells or asks how the bytes of a table are text.
func (p *proposer) encoding(valid bool) {
	name := words.Say("intake.encoding")
	switch {
	case strings.HasPrefix(string(p.file.Data), "\ufeff"), strings.HasPrefix(string(p.file.Data), "\xff\xfe"), strings.HasPrefix(string(p.file.Data), "\xfe\xff"):
		p.told("encoding", name, "Unicode", Stated, words.Say("intake.encoding_mark"))
	case valid:
		p.told("encoding", name, "UTF-8", Fits, words.Say("intake.encoding_valid"))
	default:
		i := Item{Key: "encoding", Name: name, Value: encodings[0], Sure: Fits, Why: words.Say("intake.encoding_invalid", "sample", record.Quote(p.odd()))}
		for _, e := range encodings {
			i.Choices = append(i.Choices, Choice{e, e})
		}
		p.add(i)
	}
}

// odd is a cell with a letter that is not ASCII, as it was read.
func (p *proposer) odd() string {
	s, err := vector.OpenSheet(p.file)
	if err != nil {
		return ""
	}
	for _, row := range append([]vector.Row{{Cells: s.Header}}, s.Rows...) {
		for _, cell := range row.Cells {
			if strings.ContainsFunc(cell, func(r rune) bool { return r > 0x7e }) {
				return cell
			}
		}
	}
	return ""
}
