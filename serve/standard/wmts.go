package standard

import (
	"encoding/xml"
	"strconv"

	"groundsheet/tiles"
)

// Names of XML (OGC 07-057r7; OWS 1.1: 06-121r3).
const (
	nsWMTS  = "http://www.opengis.net/wmts/1.0"
	nsOWS   = "http://www.opengis.net/ows/1.1"
	nsXLink = "http://www.w3.org/1999/xlink"
)

// DocumentPath is where the capabilities lie below the path of a WMTS service.
const DocumentPath = "/1.0.0/WMTSCapabilities.xml"

// wmtsCapabilities is the document, its elements in the order of the schema.
type wmtsCapabilities struct {
	XMLName    xml.Name        `xml:"Capabilities"`
	WMTS       string          `xml:"xmlns,attr"`
	OWS        string          `xml:"xmlns:ows,attr"`
	XLink      string          `xml:"xmlns:xlink,attr"`
	Version    string          `xml:"version,attr"`
	Title      string          `xml:"ows:ServiceIdentification>ows:Title"`
	Type       string          `xml:"ows:ServiceIdentification>ows:ServiceType"`
	TypeVer    string          `xml:"ows:ServiceIdentification>ows:ServiceTypeVersion"`
	Operations []wmtsOperation `xml:"ows:OperationsMetadata>ows:Operation"`
	Contents   wmtsContents    `xml:"Contents"`
	Document   wmtsLink        `xml:"ServiceMetadataURL"`
}

type wmtsLink struct {
	Href string `xml:"xlink:href,attr"`
}

type wmtsOperation struct {
	Name string `xml:"name,attr"`
	Get  struct {
		wmtsLink
		Constraint struct {
			Name  string `xml:"name,attr"`
			Value string `xml:"ows:AllowedValues>ows:Value"`
		} `xml:"ows:Constraint"`
	} `xml:"ows:DCP>ows:HTTP>ows:Get"`
}

type wmtsContents struct {
	Layers []wmtsLayer
	Sets   []wmtsSet
}

type wmtsLayer struct {
	XMLName  xml.Name     `xml:"Layer"`
	Title    string       `xml:"ows:Title"`
	About    string       `xml:"ows:Abstract,omitempty"`
	Lower    string       `xml:"ows:WGS84BoundingBox>ows:LowerCorner"`
	Upper    string       `xml:"ows:WGS84BoundingBox>ows:UpperCorner"`
	ID       string       `xml:"ows:Identifier"`
	Style    wmtsStyle    `xml:"Style"`
	Format   string       `xml:"Format"`
	Set      string       `xml:"TileMatrixSetLink>TileMatrixSet"`
	Limits   []wmtsLimit  `xml:"TileMatrixSetLink>TileMatrixSetLimits>TileMatrixLimits,omitempty"`
	Resource wmtsResource `xml:"ResourceURL"`
}

type wmtsStyle struct {
	Default bool   `xml:"isDefault,attr"`
	ID      string `xml:"ows:Identifier"`
}

type wmtsLimit struct {
	Matrix string `xml:"TileMatrix"`
	MinRow uint32 `xml:"MinTileRow"`
	MaxRow uint32 `xml:"MaxTileRow"`
	MinCol uint32 `xml:"MinTileCol"`
	MaxCol uint32 `xml:"MaxTileCol"`
}

type wmtsResource struct {
	Format   string `xml:"format,attr"`
	Type     string `xml:"resourceType,attr"`
	Template string `xml:"template,attr"`
}

type wmtsSet struct {
	XMLName  xml.Name     `xml:"TileMatrixSet"`
	Title    string       `xml:"ows:Title"`
	ID       string       `xml:"ows:Identifier"`
	CRS      string       `xml:"ows:SupportedCRS"`
	Scales   string       `xml:"WellKnownScaleSet,omitempty"`
	Matrices []wmtsMatrix `xml:"TileMatrix"`
}

type wmtsMatrix struct {
	ID      string `xml:"ows:Identifier"`
	Scale   string `xml:"ScaleDenominator"`
	Corner  string `xml:"TopLeftCorner"`
	Width   int    `xml:"TileWidth"`
	Height  int    `xml:"TileHeight"`
	Columns int    `xml:"MatrixWidth"`
	Rows    int    `xml:"MatrixHeight"`
}

// WMTS is the capabilities document of the service at a path, such as "/wmts".
// A tile matrix set has the zooms from the shallowest to the deepest that one
// of its layers holds, and each layer names its own with their limits: clients
// that take the deepest matrix of a set for the layer's own get no empty one.
func (s Service) WMTS(path string) ([]byte, error) {
	d := wmtsCapabilities{
		WMTS: nsWMTS, OWS: nsOWS, XLink: nsXLink, Version: "1.0.0", Title: s.Title, Type: "OGC WMTS", TypeVer: "1.0.0",
		Document: wmtsLink{s.Base + path + DocumentPath},
	}
	for _, name := range []string{"GetCapabilities", "GetTile"} {
		o := wmtsOperation{Name: name}
		o.Get.Href = s.Base + path + "?"
		o.Get.Constraint.Name, o.Get.Constraint.Value = "GetEncoding", "KVP"
		d.Operations = append(d.Operations, o)
	}
	for _, l := range s.Layers {
		if len(l.Limits) > 0 { // a layer without a tile has no tile matrix to name
			d.Contents.Layers = append(d.Contents.Layers, s.wmtsLayer(l))
		}
	}
	for _, size := range s.sizes() {
		if set := s.wmtsSet(size); len(set.Matrices) > 0 {
			d.Contents.Sets = append(d.Contents.Sets, set)
		}
	}
	return marshal(d)
}

func (s Service) wmtsLayer(l Layer) wmtsLayer {
	out := wmtsLayer{
		Title: l.Title, About: l.About, Lower: pair(l.Bounds.West, l.Bounds.South), Upper: pair(l.Bounds.East, l.Bounds.North),
		ID: l.ID, Style: wmtsStyle{true, styleID}, Format: l.Media, Set: l.SetID(),
		Resource: wmtsResource{l.Media, "tile", s.address(l.Tiles, "TileMatrix", "TileCol", "TileRow")},
	}
	for _, m := range l.Limits {
		out.Limits = append(out.Limits, wmtsLimit{matrixID(m.Zoom), m.MinRow, m.MaxRow, m.MinCol, m.MaxCol})
	}
	return out
}

// styleID is the only style there is.
const styleID = "default"

func (s Service) wmtsSet(size int) wmtsSet {
	set := wmtsSet{Title: setTitle(size), ID: setID(size), CRS: crsURN}
	if size == 256 {
		set.Scales = scaleURN
	}
	shallowest, deepest := tiles.MaxZoom+1, -1
	for _, l := range s.Layers {
		if n := len(l.Limits); n > 0 && l.size() == size {
			shallowest, deepest = min(shallowest, l.Limits[0].Zoom), max(deepest, l.Limits[n-1].Zoom)
		}
	}
	for zoom := shallowest; zoom <= deepest; zoom++ {
		m := matrixOf(zoom, size)
		set.Matrices = append(set.Matrices, wmtsMatrix{m.ID, float(m.Scale), pair(m.Origin[0], m.Origin[1]), m.Width, m.Height, m.Columns, m.Rows})
	}
	return set
}

func float(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func pair(x, y float64) string { return float(x) + " " + float(y) }
