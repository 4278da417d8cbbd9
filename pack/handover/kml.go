package handover

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"html"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/words"
)

// The elements of KML 2.3 (OGC 12-007r2) that are written, in the order of its schema.
type (
	kmlFile struct {
		XMLName  xml.Name    `xml:"http://www.opengis.net/kml/2.2 kml"`
		Version  string      `xml:"version,attr"`
		Document kmlDocument `xml:"Document"`
	}
	kmlDocument struct {
		Name        string      `xml:"name"`
		Description string      `xml:"description"`
		Styles      []kmlStyle  `xml:"Style"`
		Schema      kmlSchema   `xml:"Schema"`
		Folders     []kmlFolder `xml:"Folder"`
	}
	kmlStyle struct {
		ID    string       `xml:"id,attr"`
		Icon  kmlColored   `xml:"IconStyle"`
		Line  kmlLineStyle `xml:"LineStyle"`
		Areas kmlColored   `xml:"PolyStyle"`
	}
	kmlColored struct {
		Color string `xml:"color"`
	}
	kmlLineStyle struct {
		Color string  `xml:"color"`
		Width float64 `xml:"width"`
	}
	kmlSchema struct {
		Name   string     `xml:"name,attr"`
		ID     string     `xml:"id,attr"`
		Fields []kmlField `xml:"SimpleField"`
	}
	kmlField struct {
		Type    string `xml:"type,attr"`
		Name    string `xml:"name,attr"`
		Display string `xml:"displayName"`
	}
	kmlFolder struct {
		Name  string         `xml:"name"`
		Finds []kmlPlacemark `xml:"Placemark"`
	}
	kmlPlacemark struct {
		Name        string      `xml:"name"`
		Description string      `xml:"description"`
		Time        string      `xml:"TimeStamp>when,omitempty"`
		Style       string      `xml:"styleUrl"`
		Extended    kmlExtended `xml:"ExtendedData"`
		Shape       string      `xml:",innerxml"`
	}
	kmlExtended struct {
		Data kmlData `xml:"SchemaData"`
	}
	kmlData struct {
		Schema string     `xml:"schemaUrl,attr"`
		Values []kmlValue `xml:"SimpleData"`
	}
	kmlValue struct {
		Name string `xml:"name,attr"`
		Text string `xml:",chardata"`
	}
)

// writeKML writes finds in folders by utility. Photos are shown where there is an
// address for them, which a KML without its KMZ has not.
func writeKML(title, about string, finds []Find, photo func(hash string) string) ([]byte, error) {
	k := kmlFile{Version: "2.3", Document: kmlDocument{Name: plainText(title), Description: htmlText(about), Schema: kmlSchema{Name: "find", ID: "find"}}}
	for _, f := range Fields() {
		kind := "string"
		if f.Number {
			kind = "double"
		}
		k.Document.Schema.Fields = append(k.Document.Schema.Fields, kmlField{kind, f.Name, f.title()})
	}
	for _, u := range record.Utilities() {
		k.Document.Styles = append(k.Document.Styles, styleOf(u))
		folder := kmlFolder{Name: u.Code}
		for _, f := range finds {
			if f.Utility == u.Code {
				folder.Finds = append(folder.Finds, placemark(f, photo))
			}
		}
		if len(folder.Finds) > 0 {
			k.Document.Folders = append(k.Document.Folders, folder)
		}
	}
	return marshalXML(k)
}

func marshalXML(v any) ([]byte, error) {
	out, err := xml.MarshalIndent(v, "", " ")
	return append(append([]byte(xml.Header), out...), '\n'), err
}

func styleOf(u record.Utility) kmlStyle {
	c := u.Color // #RRGGBB, in KML AABBGGRR
	abgr := func(opaque string) string { return strings.ToLower(opaque + c[5:7] + c[3:5] + c[1:3]) }
	return kmlStyle{u.Code, kmlColored{abgr("ff")}, kmlLineStyle{abgr("ff"), 3}, kmlColored{abgr("55")}}
}

func placemark(f Find, photo func(string) string) kmlPlacemark {
	p := kmlPlacemark{Name: f.title(), Style: "#" + f.Utility, Extended: kmlExtended{kmlData{Schema: "#find"}}, Shape: kmlShape(f.Geometry)}
	if t, ok := moment(f.text("recorded")); ok {
		p.Time = t
	}
	about := strings.Split(htmlText(f.sentence()), "\n")
	for _, hash := range f.Photos {
		if at := photo(hash); at != "" {
			about = append(about, fmt.Sprintf(`<img src="%s" width="480">`, html.EscapeString(at)))
		}
	}
	p.Description = strings.Join(about, "<br>")
	for i, v := range f.values(Fields()) {
		if v != nil {
			p.Extended.Data.Values = append(p.Extended.Data.Values, kmlValue{Fields()[i].Name, spelled(v)})
		}
	}
	return p
}

// spelled is a value in an XML file.
func spelled(v any) string {
	if n, ok := v.(float64); ok {
		return plainNumber(n)
	}
	return plainText(fmt.Sprint(v))
}

// htmlText is a text for a balloon, which is HTML: nothing in it is a tag.
func htmlText(s string) string { return html.EscapeString(plainText(s)) }

// kmlShape is the element of a shape.
func kmlShape(g orb.Geometry) string {
	var b bytes.Buffer
	at := func(all []orb.Point) string {
		var c strings.Builder
		for i, p := range all {
			if i > 0 {
				c.WriteByte(' ')
			}
			c.WriteString(decimal(p[0], 9) + "," + decimal(p[1], 9))
		}
		return "<coordinates>" + c.String() + "</coordinates>"
	}
	switch g := simple(g).(type) {
	case orb.Point:
		fmt.Fprintf(&b, "<Point>%s</Point>", at([]orb.Point{g}))
	case orb.LineString:
		fmt.Fprintf(&b, "<LineString><tessellate>1</tessellate>%s</LineString>", at(g))
	case orb.MultiLineString:
		for _, l := range g {
			b.WriteString(kmlShape(orb.MultiLineString{l}))
		}
	case orb.Polygon:
		for i, ring := range g {
			side := "innerBoundaryIs"
			if i == 0 {
				side = "outerBoundaryIs"
			}
			fmt.Fprintf(&b, "<%s><LinearRing>%s</LinearRing></%s>", side, at(ring), side)
		}
		return "<Polygon><tessellate>1</tessellate>" + b.String() + "</Polygon>"
	case orb.MultiPolygon:
		for _, p := range g {
			b.WriteString(kmlShape(orb.MultiPolygon{p}))
		}
	default:
		return ""
	}
	if m, ok := g.(orb.MultiLineString); ok && len(m) > 1 {
		return "<MultiGeometry>" + b.String() + "</MultiGeometry>"
	}
	if m, ok := g.(orb.MultiPolygon); ok && len(m) > 1 {
		return "<MultiGeometry>" + b.String() + "</MultiGeometry>"
	}
	return b.String()
}

// title is what a field is called for people.
func (f Field) title() string {
	if f.Unit != "" && f.Unit != "m" {
		return words.Say("handover.field_unit", "name", f.Name, "unit", f.Unit)
	}
	return f.Name
}
