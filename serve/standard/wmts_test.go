package standard

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"groundsheet/tiles"
)

// invented is a site of three maps: of two sizes of tiles, and one that holds
// no tile. Its words try to break out of documents.
func invented() service {
	limits := func(zooms ...int) (all []tiles.Limit) {
		for _, z := range zooms {
			all = append(all, tiles.Limit{Zoom: z, MinRow: 10, MaxRow: 12, MinCol: 20, MaxCol: 25})
		}
		return all
	}
	b := tiles.Box{West: -105.25, South: 40, East: -105, North: 40.5}
	return service{Base: "http://field.local:8460", Title: `Job & "site" <1>`, Layers: []layer{
		{ID: "one", Title: "One]]><x>", About: "a < b \x01", Credit: "Survey", Media: "image/jpeg", Bounds: b, Limits: limits(14, 15, 17), Tiles: "/packs/one/tiles/{z}/{x}/{y}.jpg?v=1&w=2", Version: "1-a"},
		{ID: "fine", Title: "Fine", Media: "image/png", TileSize: 512, Bounds: b, Limits: limits(12, 13), Tiles: "/packs/fine/tiles/{z}/{x}/{y}.png"},
		{ID: "empty", Title: "Empty", Media: "image/png", Bounds: b, Tiles: "/packs/empty/tiles/{z}/{x}/{y}.png"},
	}}
}

// node is an element with its children in their order.
type node struct {
	name  xml.Name
	attrs map[string]string
	text  string
	kids  []*node
}

func parse(t *testing.T, data []byte) *node {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(data))
	root := &node{}
	open := []*node{root}
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("not well-formed: %v\n%s", err, data)
		}
		top := open[len(open)-1]
		switch e := token.(type) {
		case xml.StartElement:
			n := &node{name: e.Name, attrs: map[string]string{}}
			for _, a := range e.Attr {
				n.attrs[a.Name.Local] = a.Value
			}
			top.kids = append(top.kids, n)
			open = append(open, n)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			top.text += string(e)
		}
	}
	return root.kids[0]
}

func (n *node) all(name string) (out []*node) {
	for _, k := range n.kids {
		if k.name.Local == name {
			out = append(out, k)
		}
	}
	return out
}

func (n *node) one(t *testing.T, path ...string) *node {
	t.Helper()
	for _, name := range path {
		found := n.all(name)
		if len(found) != 1 {
			t.Fatalf("%s has %d %s", n.name.Local, len(found), name)
		}
		n = found[0]
	}
	return n
}

// rule is what the schema asks of an element: its children in this order, a
// sign for how often: "" once, ? at most once, * any number, + at least once;
// and the attributes that it must have.
type rule struct {
	space string
	kids  []string
	attrs []string
}

// schema is what WMTS 1.0.0 and OWS 1.1 ask of the elements that are used here
// (the XSDs of OGC 07-057r7 and 06-121r3, by their mapping in npm ogc-schemas
// 2.6.1, lib/WMTS_1_0.js and OWS_1_1_0.js).
func schema() map[string]rule {
	description := []string{"ows:Title*", "ows:Abstract*", "ows:Keywords*"}
	return map[string]rule{
		"Capabilities":          {nsWMTS, []string{"ows:ServiceIdentification?", "ows:ServiceProvider?", "ows:OperationsMetadata?", "Contents?", "Themes*", "WSDL*", "ServiceMetadataURL*"}, []string{"version"}},
		"ServiceIdentification": {nsOWS, append(slices.Clone(description), "ows:ServiceType", "ows:ServiceTypeVersion+", "ows:Profile*", "ows:Fees?", "ows:AccessConstraints*"), nil},
		"OperationsMetadata":    {nsOWS, []string{"ows:Operation+", "ows:Parameter*", "ows:Constraint*"}, nil},
		"Operation":             {nsOWS, []string{"ows:DCP+", "ows:Parameter*", "ows:Constraint*"}, []string{"name"}},
		"DCP":                   {nsOWS, []string{"ows:HTTP"}, nil},
		"HTTP":                  {nsOWS, []string{"ows:Get*"}, nil},
		"Get":                   {nsOWS, []string{"ows:Constraint*"}, []string{"href"}},
		"Constraint":            {nsOWS, []string{"ows:AllowedValues"}, []string{"name"}},
		"AllowedValues":         {nsOWS, []string{"ows:Value+"}, nil},
		"Contents":              {nsWMTS, []string{"Layer*", "TileMatrixSet*"}, nil},
		"Layer":                 {nsWMTS, append(slices.Clone(description), "ows:WGS84BoundingBox*", "ows:Identifier", "ows:BoundingBox*", "ows:Metadata*", "Style+", "Format+", "InfoFormat*", "Dimension*", "TileMatrixSetLink+", "ResourceURL*"), nil},
		"WGS84BoundingBox":      {nsOWS, []string{"ows:LowerCorner", "ows:UpperCorner"}, nil},
		"Style":                 {nsWMTS, append(slices.Clone(description), "ows:Identifier", "LegendURL*"), nil},
		"TileMatrixSetLink":     {nsWMTS, []string{"TileMatrixSet", "TileMatrixSetLimits?"}, nil},
		"TileMatrixSetLimits":   {nsWMTS, []string{"TileMatrixLimits+"}, nil},
		"TileMatrixLimits":      {nsWMTS, []string{"TileMatrix", "MinTileRow", "MaxTileRow", "MinTileCol", "MaxTileCol"}, nil},
		"ResourceURL":           {nsWMTS, nil, []string{"format", "resourceType", "template"}},
		"TileMatrixSet":         {nsWMTS, append(slices.Clone(description), "ows:Identifier", "ows:BoundingBox?", "ows:SupportedCRS", "WellKnownScaleSet?", "TileMatrix+"), nil},
		"TileMatrix":            {nsWMTS, append(slices.Clone(description), "ows:Identifier", "ScaleDenominator", "TopLeftCorner", "TileWidth", "TileHeight", "MatrixWidth", "MatrixHeight"), nil},
		"ServiceMetadataURL":    {nsWMTS, nil, []string{"href"}},
		"ExceptionReport":       {nsOWS, []string{"ows:Exception+"}, []string{"version"}},
		"Exception":             {nsOWS, []string{"ows:ExceptionText*"}, []string{"exceptionCode"}},
	}
}

// violations holds a document against the schema.
func violations(n *node) (out []string) {
	r, known := schema()[n.name.Local]
	if !known || len(n.kids) == 0 && strings.TrimSpace(n.text) != "" { // plain text, such as the TileMatrix of a limit
		return nil
	}
	if n.name.Space != r.space {
		out = append(out, fmt.Sprintf("%s is of %s", n.name.Local, n.name.Space))
	}
	for _, a := range r.attrs {
		if n.attrs[a] == "" {
			out = append(out, fmt.Sprintf("%s lacks %s", n.name.Local, a))
		}
	}
	i := 0
	for _, want := range r.kids {
		name, often := strings.TrimRight(want, "?*+"), want[len(want)-1:]
		prefix, local, is := strings.Cut(name, ":")
		space := nsOWS
		if !is {
			local, space = prefix, nsWMTS
		}
		n0 := i
		for i < len(n.kids) && n.kids[i].name == (xml.Name{Space: space, Local: local}) {
			i++
		}
		found := i - n0
		if (found == 0 && often != "?" && often != "*") || (found > 1 && often != "*" && often != "+") {
			out = append(out, fmt.Sprintf("%s has %d %s", n.name.Local, found, want))
		}
	}
	if i < len(n.kids) {
		out = append(out, fmt.Sprintf("%s: %s is not where it may be", n.name.Local, n.kids[i].name.Local))
	}
	for _, k := range n.kids {
		out = append(out, violations(k)...)
	}
	return out
}

func capabilities(t *testing.T, s service) *node {
	t.Helper()
	data, err := s.WMTS("/wmts")
	if err != nil {
		t.Fatal(err)
	}
	return parse(t, data)
}

func TestCapabilitiesKeepToTheSchema(t *testing.T) {
	one := invented()
	one.Layers = one.Layers[:1]
	for name, s := range map[string]service{"all": invented(), "one": one, "none": {Base: "http://h", Title: "none"}} {
		doc := capabilities(t, s)
		for _, v := range violations(doc) {
			t.Errorf("%s: %s", name, v)
		}
		if doc.attrs["version"] != "1.0.0" || doc.one(t, "ServiceIdentification", "ServiceType").text != "OGC WMTS" {
			t.Errorf("%s: not WMTS 1.0.0", name)
		}
		if got := len(doc.one(t, "OperationsMetadata").all("Operation")); got != 2 { // the schema asks for two at least
			t.Errorf("%s: %d operations", name, got)
		}
		if got := doc.one(t, "ServiceMetadataURL").attrs["href"]; got != s.Base+"/wmts/1.0.0/WMTSCapabilities.xml" {
			t.Errorf("%s: the document is said to be at %s", name, got)
		}
	}
}

// TestTheCheckerSees: the checker itself finds what is missing, out of order or
// unknown.
func TestTheCheckerSees(t *testing.T) {
	data, err := invented().WMTS("/wmts")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range [][2]string{
		{`<Format>image/jpeg</Format>`, ``}, {` version="1.0.0"`, ``}, {`<MinTileRow>10</MinTileRow>`, ``},
		{`<ows:Identifier>one</ows:Identifier>`, `<Identifier>one</Identifier>`}, {`<Contents>`, `<Contents><Extra/>`},
		{`resourceType="tile"`, ``}, {`<TileWidth>256</TileWidth>`, `<TileWidth>256</TileWidth><TileWidth>256</TileWidth>`},
	} {
		if !bytes.Contains(data, []byte(c[0])) {
			t.Fatalf("%s is not in the document", c[0])
		}
		if len(violations(parse(t, bytes.Replace(data, []byte(c[0]), []byte(c[1]), 1)))) == 0 {
			t.Errorf("%q instead of %q is not seen", c[1], c[0])
		}
	}
}

func TestCapabilitiesTellTheLayers(t *testing.T) {
	s := invented()
	contents := capabilities(t, s).one(t, "Contents")
	layers := contents.all("Layer")
	if len(layers) != 2 {
		t.Fatalf("%d layers: one without a tile cannot be named", len(layers))
	}
	l := layers[0]
	if l.one(t, "Title").text != "One]]><x>" || l.one(t, "Identifier").text != "one" || l.one(t, "Style").attrs["isDefault"] != "true" {
		t.Errorf("%q", l.one(t, "Title").text)
	}
	if lower, upper := l.one(t, "WGS84BoundingBox", "LowerCorner").text, l.one(t, "WGS84BoundingBox", "UpperCorner").text; lower != "-105.25 40" || upper != "-105 40.5" {
		t.Errorf("%s %s: longitude comes first", lower, upper)
	}
	want := "http://field.local:8460/packs/one/tiles/{TileMatrix}/{TileCol}/{TileRow}.jpg?v=1&w=2"
	if got := l.one(t, "ResourceURL").attrs["template"]; got != want {
		t.Errorf("%s", got)
	}
	var matrices []string
	for _, m := range l.one(t, "TileMatrixSetLink", "TileMatrixSetLimits").kids {
		matrices = append(matrices, m.one(t, "TileMatrix").text)
		if m.one(t, "MinTileRow").text != "10" || m.one(t, "MaxTileRow").text != "12" || m.one(t, "MinTileCol").text != "20" || m.one(t, "MaxTileCol").text != "25" {
			t.Error("limits are mixed up")
		}
	}
	if !slices.Equal(matrices, []string{"14", "15", "17"}) {
		t.Errorf("%v", matrices)
	}
	sets := contents.all("TileMatrixSet")
	if len(sets) != 2 || sets[0].one(t, "Identifier").text != "WebMercatorQuad" || sets[1].one(t, "Identifier").text != "WebMercatorQuad512" {
		t.Fatalf("%d sets", len(sets))
	}
	if len(sets[1].all("WellKnownScaleSet")) != 0 || sets[0].one(t, "WellKnownScaleSet").text != scaleURN {
		t.Error("the scale set of 256 pixels is not that of 512")
	}
	for i, links := range map[int]string{0: "WebMercatorQuad", 1: "WebMercatorQuad512"} {
		if got := layers[i].one(t, "TileMatrixSetLink", "TileMatrixSet").text; got != links {
			t.Errorf("layer %d is of %s", i, got)
		}
	}
}

// annexD is the table of OGC 17-083r4, Annex D, as printed: zoom, scale
// denominator, side of a pixel in meters.
var annexD = []struct {
	zoom        int
	scale, cell float64
}{
	{0, 559082264.0287178, 156543.0339280410}, {1, 279541132.0143589, 78271.51696402048}, {2, 139770566.0071794, 39135.75848201023},
	{8, 2183915.093862179, 611.4962262814100}, {12, 136494.6933663862, 38.21851414258813}, {14, 34123.67334159654, 9.554628535647032},
	{18, 2132.729583849784, 0.5971642834779395}, {21, 266.591197981222, 0.0746455354347424}, {24, 33.3238997476528, 0.0093306919293428},
}

func TestMatricesAreThoseOfAnnexD(t *testing.T) {
	for _, row := range annexD {
		m, fine := matrixOf(row.zoom, 256), matrixOf(row.zoom, 512)
		for what, pair := range map[string][2]float64{
			"scale": {m.Scale, row.scale}, "cell": {m.Cell, row.cell}, "scale of 512": {fine.Scale, row.scale / 2}, "cell of 512": {fine.Cell, row.cell / 2},
			"left": {m.Origin[0], -20037508.3427892}, "top": {m.Origin[1], 20037508.3427892},
		} {
			if math.Abs(pair[0]/pair[1]-1) > 1e-13 {
				t.Errorf("zoom %d: %s %.17g, printed %.17g", row.zoom, what, pair[0], pair[1])
			}
		}
		if m.Columns != 1<<row.zoom || m.Rows != m.Columns || m.Width != 256 || fine.Width != 512 {
			t.Errorf("zoom %d: %+v", row.zoom, m)
		}
	}
	for _, set := range capabilities(t, invented()).one(t, "Contents").all("TileMatrixSet") {
		for _, m := range set.all("TileMatrix") {
			var zoom, width int
			var scale float64
			if _, err := fmt.Sscan(m.one(t, "Identifier").text+" "+m.one(t, "TileWidth").text+" "+m.one(t, "ScaleDenominator").text, &zoom, &width, &scale); err != nil {
				t.Fatal(err)
			}
			if want := tiles.ScaleDenominator(zoom) * 256 / float64(width); scale != want {
				t.Errorf("zoom %d: %v, want %v to the last digit", zoom, scale, want)
			}
		}
	}
}
