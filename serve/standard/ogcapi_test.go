package standard

import (
	"encoding/json"
	"strings"
	"testing"
)

// Names as registered by OGC.
const (
	quadURI        = "http://www.opengis.net/def/tilematrixset/OGC/1.0/WebMercatorQuad"
	crsURI         = "http://www.opengis.net/def/crs/EPSG/0/3857"
	scaleURN       = "urn:ogc:def:wkss:OGC:1.0:GoogleMapsCompatible"
	relConformance = "http://www.opengis.net/def/rel/ogc/1.0/conformance"
	relData        = "http://www.opengis.net/def/rel/ogc/1.0/data"
	relSchemes     = "http://www.opengis.net/def/rel/ogc/1.0/tiling-schemes"
	relScheme      = "http://www.opengis.net/def/rel/ogc/1.0/tiling-scheme"
	nsWMTS         = "http://www.opengis.net/wmts/1.0"
	nsOWS          = "http://www.opengis.net/ows/1.1"
)

// asJSON gives a document as a client reads it.
func asJSON(t *testing.T, doc any) map[string]any {
	t.Helper()
	data, err := json.Marshal(doc)
	if err != nil {
		t.Fatal(err)
	}
	var v map[string]any
	if err := json.Unmarshal(data, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// linked is the link of a relation.
func linked(t *testing.T, doc map[string]any, rel string) map[string]any {
	t.Helper()
	for _, l := range doc["links"].([]any) {
		if l := l.(map[string]any); l["rel"] == rel {
			return l
		}
	}
	t.Fatalf("no link %s", rel)
	return nil
}

// TestLinksAreAbsolute: every link of every document begins with the address
// that was asked, and has what OGC 17-083r4 and 19-072 ask of links.
func TestLinksAreAbsolute(t *testing.T) {
	s := invented()
	docs := []any{s.Document(landing), s.Document(collections), s.Document(matrixSets)}
	for _, l := range s.Layers {
		docs = append(docs, s.LayerDocument(collection, l), s.LayerDocument(tilesets, l), s.LayerDocument(tileset, l))
	}
	n := 0
	var walk func(v any)
	walk = func(v any) {
		switch v := v.(type) {
		case map[string]any:
			if href, is := v["href"].(string); is {
				n++
				if !strings.HasPrefix(href, s.Base+"/") || v["rel"] == "" || v["type"] == "" {
					t.Errorf("%v", v)
				}
				if templated, _ := v["templated"].(bool); templated != strings.Contains(href, "{") {
					t.Errorf("%v", v)
				}
			}
			for _, inner := range v {
				walk(inner)
			}
		case []any:
			for _, inner := range v {
				walk(inner)
			}
		}
	}
	for _, doc := range docs {
		walk(asJSON(t, doc))
	}
	if n < 30 {
		t.Errorf("only %d links", n)
	}
}

// TestLandingPage: title and links that OGC 19-072, 7.2, and 20-057 ask for.
func TestLandingPage(t *testing.T) {
	doc := asJSON(t, invented().Document(landing))
	for _, rel := range []string{"self", "service-desc", "conformance", "data", relConformance, relData, relSchemes} {
		linked(t, doc, rel)
	}
	if doc["title"] == "" {
		t.Error("no title")
	}
}

// TestConformanceNamesWhatHolds: a format is named if a map has it.
func TestConformanceNamesWhatHolds(t *testing.T) {
	s := invented()
	has := func(s service, end string) bool {
		for _, c := range asJSON(t, s.Document(conformance))["conformsTo"].([]any) {
			if strings.HasSuffix(c.(string), end) {
				return true
			}
		}
		return false
	}
	if !has(s, "tiles-1/1.0/conf/core") || !has(s, "/jpeg") || !has(s, "/png") {
		t.Error("what holds is not named")
	}
	s.Layers = s.Layers[:1]
	if has(s, "/png") || has(s, "/collections") || has(s, "/mvt") {
		t.Error("what does not hold is named")
	}
}

// TestTileset: what OGC 17-083r4, 7.4, makes mandatory (dataType, crs, a tile
// matrix set, links), limits, and the templated item that OGC 20-057 asks for.
func TestTileset(t *testing.T) {
	s := invented()
	doc := asJSON(t, s.LayerDocument(tileset, s.Layers[0]))
	if doc["dataType"] != "map" || doc["crs"] != crsURI || doc["tileMatrixSetURI"] != quadURI || doc["version"] != "1-a" {
		t.Errorf("%v", doc)
	}
	limits := doc["tileMatrixSetLimits"].([]any)
	first := limits[0].(map[string]any)
	if len(limits) != 3 || first["tileMatrix"] != "14" || first["minTileRow"] != 10.0 || first["maxTileRow"] != 12.0 || first["minTileCol"] != 20.0 || first["maxTileCol"] != 25.0 {
		t.Errorf("%v", limits)
	}
	item := linked(t, doc, "item")
	if item["href"] != s.Base+"/collections/one/map/tiles/WebMercatorQuad/{tileMatrix}/{tileRow}/{tileCol}" || item["type"] != "image/jpeg" {
		t.Errorf("%v", item)
	}
	if b := doc["boundingBox"].(map[string]any)["lowerLeft"].([]any); b[0] != -105.25 || b[1] != 40.0 {
		t.Errorf("%v: CRS84 has longitude first", b)
	}
	fine := asJSON(t, s.LayerDocument(tileset, s.Layers[1]))
	if fine["tileMatrixSetURI"] != nil || linked(t, fine, relScheme)["href"] != s.Base+"/tileMatrixSets/WebMercatorQuad512" {
		t.Errorf("tiles of 512 pixels are not of the registered set: %v", fine)
	}
}

// TestMatrixSets: what OGC 17-083r4, 7.1, makes mandatory of a set in JSON.
func TestMatrixSets(t *testing.T) {
	s := invented()
	if got := len(asJSON(t, s.Document(matrixSets))["tileMatrixSets"].([]any)); got != 2 {
		t.Errorf("%d sets", got)
	}
	for id, size := range map[string]float64{"WebMercatorQuad": 256, "WebMercatorQuad512": 512} {
		doc, ok := s.MatrixSet(id)
		if !ok {
			t.Fatal(id)
		}
		v := asJSON(t, doc)
		matrices := v["tileMatrices"].([]any)
		if v["id"] != id || v["crs"] != crsURI || len(matrices) != 25 || (v["uri"] != nil) != (size == 256) {
			t.Errorf("%v", v)
		}
		for i, m := range matrices {
			m := m.(map[string]any)
			for _, key := range []string{"id", "scaleDenominator", "cellSize", "pointOfOrigin", "tileWidth", "tileHeight", "matrixWidth", "matrixHeight"} {
				if m[key] == nil {
					t.Errorf("%s: matrix %d lacks %s", id, i, key)
				}
			}
			if m["tileWidth"] != size || m["matrixWidth"] != float64(int(1)<<i) {
				t.Errorf("%v", m)
			}
		}
	}
	if _, ok := s.MatrixSet("WorldCRS84Quad"); ok {
		t.Error("a set that no map uses")
	}
}

// TestAPI: each path parameter is described (OpenAPI 3.0.3, "Path Templating").
func TestAPI(t *testing.T) {
	doc := asJSON(t, invented().Document(api))
	paths := doc["paths"].(map[string]any)
	if len(paths) != 10 || !strings.HasPrefix(doc["openapi"].(string), "3.0.") {
		t.Errorf("%d paths", len(paths))
	}
	for path, v := range paths {
		get := v.(map[string]any)["get"].(map[string]any)
		n := 0
		for _, p := range get["parameters"].([]any) {
			p := p.(map[string]any)
			if p["in"] == "path" {
				n++
				if !strings.Contains(path, "{"+p["name"].(string)+"}") || p["required"] != true {
					t.Errorf("%s: %v", path, p)
				}
			}
		}
		if n != strings.Count(path, "{") || get["responses"].(map[string]any)["200"] == nil {
			t.Errorf("%s: %v", path, get)
		}
	}
}
