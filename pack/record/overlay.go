package record

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
)

// Meta is what the office states about a record as a whole. Empty fields mean
// "not stated" and are shown so.
type Meta struct {
	File         string            `toml:"file"`          // as named in the job
	Title        string            `toml:"title"`         // "" becomes the file name
	Utility      string            `toml:"utility"`       // APWA code word, see [Utilities]
	QualityLevel string            `toml:"quality_level"` // ASCE 38 A to D, or the record's own words
	Recorded     string            `toml:"-"`             // YYYY-MM-DD, YYYY-MM or YYYY
	Owner        string            `toml:"owner"`
	Record       string            `toml:"record"` // source of record: drawing, sheet, database
	Accuracy     *measure.Distance `toml:"-"`
	Note         string            `toml:"note"`
	Datum        string            `toml:"datum"`     // as stated: "WGS 84", "NAD83", …; "" = not stated
	Shift        *Shift            `toml:"-"`         // asked for in the job; nil = none
	LeaveOut     []LeftOut         `toml:"leave_out"` // rows of a table that are not read, with the reason
	Form                           // how the file is to be read
	TableFormat                    // how a table of readings is to be taken
}

// Check says which field is wrong, or nil.
func (m Meta) Check() error {
	if m.File == "" {
		return fmt.Errorf("overlay without a file: give file = \"overlays/NAME.geojson\"")
	}
	if _, err := FindUtility(m.Utility); err != nil {
		return fmt.Errorf("overlay %s: %w", m.File, err)
	}
	if m.Recorded != "" && !IsDate(m.Recorded) {
		return fmt.Errorf("overlay %s: recorded = %q is no date: write YYYY-MM-DD, YYYY-MM or YYYY, or leave it out when unknown", m.File, m.Recorded)
	}
	if err := m.checkLeaveOut(); err != nil {
		return fmt.Errorf("overlay %s: %w", m.File, err)
	}
	return nil
}

// IsDate reports whether a text is YYYY-MM-DD, YYYY-MM or YYYY.
func IsDate(s string) bool {
	for _, layout := range []string{"2006-01-02", "2006-01", "2006"} {
		if _, err := time.Parse(layout, s); err == nil {
			return true
		}
	}
	return false
}

// Overlay is one record ready for a pack. Feature properties carry "depth_m"
// and "accuracy_m" in meters where the record gave them with a unit; the
// record's own words stay beside them.
type Overlay struct {
	Meta
	ID        string // unique in a job, usable in a URL
	Kind      Utility
	Features  []geojson.Feature
	Unlocated int       // records without a place (null geometry): known of, not drawn
	Findings  []Finding // what the import has to say

	// The result of [Overlay.decimals] before a shift.
	decimalsRead  int
	decimalsKnown bool
}

// Read makes an overlay from a GeoJSON file's bytes (RFC 7946, WGS 84). A file
// without features is one too: searched, and nothing recorded. Errors name the
// file, the feature and the property.
func Read(data []byte, m Meta, id string) (Overlay, error) {
	if err := m.Check(); err != nil {
		return Overlay{}, err
	}
	features, err := geojson.Read(data)
	if err != nil {
		return Overlay{}, fmt.Errorf("overlay %s: %w", m.File, err)
	}
	return New(features, m, id)
}

// New makes an overlay from features that were read from another kind of file.
func New(features []geojson.Feature, m Meta, id string) (Overlay, error) {
	if err := m.Check(); err != nil {
		return Overlay{}, err
	}
	features, unread, err := prepare(features, m)
	switch {
	case err != nil:
		return Overlay{}, err
	case len(unread) > 0:
		return Overlay{}, fmt.Errorf("overlay %s: %s", m.File, unread[0].Text())
	}
	return assemble(features, m, id)
}

// assemble makes an overlay of features whose properties are [normalize]d.
func assemble(features []geojson.Feature, m Meta, id string) (Overlay, error) {
	kind, err := FindUtility(m.Utility)
	if err != nil {
		return Overlay{}, fmt.Errorf("overlay %s: %w", m.File, err)
	}
	o := Overlay{Meta: m, ID: id, Kind: kind}
	if o.Title == "" {
		o.Title = strings.TrimSuffix(filepath.Base(m.File), filepath.Ext(m.File)) // not the folders of the office
	}
	for _, f := range features {
		if f.Geometry == nil {
			o.Unlocated++
			continue
		}
		o.annotate(f)
		o.Features = append(o.Features, f)
	}
	o.QualityLevel, _ = Level(o.QualityLevel)
	if m.Shift != nil {
		if err := m.Shift.apply(&o); err != nil {
			return Overlay{}, err
		}
	}
	o.Findings = slices.Concat(unreadFlows(o), unreadStates(o), unreadLevels(o))
	return o, nil
}

// Bounds is the ground box round all features; zero when there is none.
func (o Overlay) Bounds() tiles.Box {
	if len(o.Features) == 0 {
		return tiles.Box{}
	}
	b := o.Features[0].Geometry.Bound()
	for _, f := range o.Features[1:] {
		b = b.Union(f.Geometry.Bound())
	}
	return tiles.Box{West: b.Left(), South: b.Bottom(), East: b.Right(), North: b.Top()}
}

// WriteGeoJSON writes the features as one FeatureCollection.
func (o Overlay) WriteGeoJSON(w io.Writer) error { return geojson.Write(w, o.Features) }

// Outside counts the features that do not touch a ground box.
func (o Overlay) Outside(b tiles.Box) int {
	box := orb.Bound{Min: orb.Point{b.West, b.South}, Max: orb.Point{b.East, b.North}}
	return o.count(func(f geojson.Feature) bool { return !f.Geometry.Bound().Intersects(box) })
}

// NoAccuracy counts the features that state no accuracy of their own.
func (o Overlay) NoAccuracy() int {
	return o.count(func(f geojson.Feature) bool { return Number(f.Properties, "accuracy_m") == nil })
}

// NoLevel counts the features of which neither they nor the record state a quality level.
func (o Overlay) NoLevel() int {
	return o.count(func(f geojson.Feature) bool { return o.LevelOf(f.Properties) == "" })
}

// NoDate counts the features of which neither they nor the record state a date.
func (o Overlay) NoDate() int {
	return o.count(func(f geojson.Feature) bool { return o.DateOf(f.Properties) == "" })
}

func (o Overlay) count(is func(geojson.Feature) bool) (n int) {
	for _, f := range o.Features {
		if is(f) {
			n++
		}
	}
	return n
}

// Readings counts the points that are no test holes; a MultiPoint counts for each
// of its points.
func (o Overlay) Readings() int { return o.points(false) }

// TestHoles counts the test holes; a MultiPoint counts for each of its points.
func (o Overlay) TestHoles() int { return o.points(true) }

func (o Overlay) points(testHoles bool) (n int) {
	for _, f := range o.Features {
		if o.IsTestHole(f) != testHoles {
			continue
		}
		switch g := f.Geometry.(type) {
		case orb.Point:
			n++
		case orb.MultiPoint:
			n += len(g)
		}
	}
	return n
}

// longestSlug leaves room in a file name, which has 255 bytes at most.
const longestSlug = 80

// Slug makes a name into an ID for files and addresses: at most 80 lower-case
// letters, digits and dashes.
func Slug(s string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(s) {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	out := b.String()
	if len(out) > longestSlug {
		out = out[:longestSlug]
	}
	if out = strings.Trim(out, "-"); out != "" {
		return out
	}
	return "untitled"
}
