package discover

import (
	"net/url"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

// Whatever a document says: no panic, and what fits has addresses on the host
// of the document alone.
func check(t *testing.T, src source.Source, err error) {
	t.Helper()
	if err != nil {
		return
	}
	for id := range tiles.NewCover(src.Zooms.Min, []tiles.Span{{Row: 0, First: 0, Last: 1}}).All() {
		address, err := src.Address(id)
		if err != nil {
			t.Fatalf("templates %q: %v", src.Templates, err)
		}
		u, err := url.Parse(address)
		if err != nil || u.Host != "t.example" {
			t.Fatalf("address %q of templates %q: %v", address, src.Templates, err)
		}
	}
}

func at() *url.URL { return &url.URL{Scheme: "https", Host: "t.example", Path: "/doc"} }

func stated(kind string) source.Source {
	return source.Source{Name: "a", Kind: kind, URL: "https://t.example/doc", Zooms: tiles.Zooms{Min: 5, Max: 5}, TileSize: 256}
}

func FuzzTileJSON(f *testing.F) {
	f.Add([]byte(`{"tilejson": "3.0.0", "tiles": ["https://t.example/{z}/{x}/{y}.png?a={z}"], "scheme": "tms", "bounds": [1,2,3,4]}`))
	f.Add([]byte(`{"tilejson": "3.0.0", "tiles": ["//t.example/{z}/{x}/{y}", "http://t.example:80/{z}/{x}/{y}#"], "minzoom": 3}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := parseTileJSON(data)
		if err != nil {
			return
		}
		src, err := d.fit(stated(source.KindTileJSON), at())
		check(t, src, err)
	})
}

func FuzzWMTS(f *testing.F) {
	f.Add([]byte(`<Capabilities version="1.0.0"><OperationsMetadata><Operation name="GetTile"><DCP><HTTP><Get href="http://t.example/w?"/></HTTP></DCP></Operation></OperationsMetadata><Contents><Layer><Identifier>a</Identifier><Style><Identifier>s</Identifier></Style><Format>image/png</Format><TileMatrixSetLink><TileMatrixSet>web</TileMatrixSet></TileMatrixSetLink></Layer><TileMatrixSet><Identifier>web</Identifier><SupportedCRS>urn:ogc:def:crs:EPSG::3857</SupportedCRS><TileMatrix><Identifier>5</Identifier><ScaleDenominator>17471320.75089743</ScaleDenominator><TopLeftCorner>-20037508.3427892 20037508.3427892</TopLeftCorner><TileWidth>256</TileWidth><TileHeight>256</TileHeight><MatrixWidth>32</MatrixWidth><MatrixHeight>32</MatrixHeight></TileMatrix></TileMatrixSet></Contents></Capabilities>`))
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := parseWMTS(data)
		if err != nil {
			return
		}
		src, err := d.fit(stated(source.KindWMTS), at())
		check(t, src, err)
		_, _ = d.offers(t.Context(), newSession(source.Source{}, Options{}), at())
	})
}

func FuzzWMS(f *testing.F) {
	f.Add([]byte(`<WMS_Capabilities version="1.3.0"><Capability><Request><GetMap><Format>image/png</Format><DCPType><HTTP><Get><OnlineResource href="https://t.example/wms?a=b"/></Get></HTTP></DCPType></GetMap></Request><Layer><Name>a</Name><CRS>EPSG:3857</CRS><Layer><Name>b</Name></Layer></Layer></Capability></WMS_Capabilities>`))
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := parseWMS(data)
		if err != nil {
			return
		}
		src := stated(source.KindWMS)
		src.Layer = d.Layers[0].Name
		out, err := d.fit(src, at())
		check(t, out, err)
		_, _ = d.offers(t.Context(), newSession(source.Source{}, Options{}), at())
	})
}

func FuzzOGC(f *testing.F) {
	f.Add([]byte(`{"tileMatrixSetURI": "http://www.opengis.net/def/tilematrixset/OGC/1.0/WebMercatorQuad", "tileMatrixSetLimits": [{"tileMatrix": "5", "maxTileRow": 3, "maxTileCol": 3}], "links": [{"rel": "item", "type": "image/png", "templated": true, "href": "x/{tileMatrix}/{tileRow}/{tileCol}"}]}`))
	f.Add([]byte(`{"crs": {"uri": "x"}, "tilesets": [{"links": [{"rel": "self", "href": "//b"}]}], "collections": [{}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := parseOGC(data)
		if err != nil {
			return
		}
		d.candidates("")
		d.bounds()
		if d.SetURI == "" { // another one would be asked for
			return
		}
		s := newSession(stated(source.KindOGCTiles), Options{Timeout: 1})
		if !strings.Contains(d.SetURI, webMercatorQuad) {
			return
		}
		src, err := ogcSession{s}.tileset(t.Context(), s.src, page{ogcDocument: d, at: at()})
		check(t, src, err)
	})
}

func FuzzMatrixSet(f *testing.F) {
	f.Add([]byte(`{"crs": "http://www.opengis.net/def/crs/EPSG/0/3857", "tileMatrices": [{"id": "0", "scaleDenominator": 559082264.0287178, "pointOfOrigin": [-20037508.3427892, 20037508.3427892], "tileWidth": 256, "tileHeight": 256, "matrixWidth": 1, "matrixHeight": 1}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := parseMatrixSet(data)
		if err != nil {
			return
		}
		for z := range fit(s.matrices(), nil, 256).names {
			if z < 0 || z > tiles.MaxZoom {
				t.Fatalf("zoom %d", z)
			}
		}
	})
}
