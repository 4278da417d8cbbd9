package serve

import (
	"bytes"
	"crypto/tls"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/source"
	"groundsheet/tiles/words/golden"
)

// TestOtherProgramsReadThePack: the tiles that a reader of each standard is led
// to are those of the pack.
func TestOtherProgramsReadThePack(t *testing.T) {
	h := start(t, makePack(t, "Site one"), makePack(t, "Site two"))
	want := quarters(t)
	for name, src := range map[string]source.Source{
		"tilejson":          {Kind: source.KindTileJSON, URL: h.URL + "/packs/site-two/tilejson.json"},
		"wmts":              {Kind: source.KindWMTS, URL: h.URL + "/wmts/1.0.0/WMTSCapabilities.xml", Layer: "site-two"},
		"wmts by questions": {Kind: source.KindWMTS, URL: h.URL + "/wmts?", Layer: "site-one"},
		"wmts of one pack":  {Kind: source.KindWMTS, URL: h.URL + "/packs/site-one/wmts/1.0.0/WMTSCapabilities.xml"},
		"ogc api":           {Kind: source.KindOGCTiles, URL: h.URL + "/?f=json", Layer: "site-one"},
		"ogc api tileset":   {Kind: source.KindOGCTiles, URL: h.URL + "/collections/site-two/map/tiles/WebMercatorQuad"},
	} {
		t.Run(name, func(t *testing.T) {
			src.Name, src.Zooms, src.TileSize = "outside", tiles.Zooms{Min: 16, Max: 17}, 256
			src.Terms = &source.Terms{Offline: source.OfflineAllowed, Reference: "this test", RequestsPerSecond: 100, Connections: 1}
			ready, err := discover.Resolve(t.Context(), src, discover.Options{})
			if err != nil {
				t.Fatal(err)
			}
			for _, id := range []tiles.ID{deepest17, deepest17.Parent()} {
				address, err := ready.Address(id)
				if err != nil {
					t.Fatal(err)
				}
				resp, body := get(t, address)
				if resp.StatusCode != 200 || !bytes.Equal(body, want) || resp.Header.Get("Content-Type") != "image/png" || resp.Header.Get("ETag") == "" {
					t.Errorf("%s: %s", address, resp.Status)
				}
			}
		})
	}
}

func tileQuestion(id tiles.ID) string {
	return fmt.Sprintf("?Service=WMTS&Request=GetTile&Version=1.0.0&Layer=site-one&Style=default&Format=image/png&TileMatrixSet=WebMercatorQuad&TileMatrix=%d&TileRow=%d&TileCol=%d", id.Z, id.Y, id.X)
}

// TestQuestions: a tile by names and values is the tile, with its ETag and its
// head; what is wrong is told in a report.
func TestQuestions(t *testing.T) {
	h := start(t, makePack(t, "Site one"))
	for _, service := range []string{"/wmts", "/packs/site-one/wmts"} {
		resp, body := get(t, h.URL+service+tileQuestion(deepest17))
		if resp.StatusCode != 200 || !bytes.Equal(body, quarters(t)) {
			t.Fatalf("%s: %s %s", service, resp.Status, body)
		}
		again, _ := get(t, h.URL+service+tileQuestion(deepest17), "If-None-Match", resp.Header.Get("ETag"))
		if again.StatusCode != 304 {
			t.Errorf("conditional: %s", again.Status)
		}
		off := deepest17
		off.X++
		for question, want := range map[string]struct {
			status int
			code   string
		}{
			tileQuestion(off): {400, "TileOutOfRange"}, "": {400, "MissingParameterValue"},
			"?service=WMTS&request=GetFeatureInfo":                                     {501, "OperationNotSupported"},
			strings.Replace(tileQuestion(deepest17), "site-one", "<script>", 1):        {400, "InvalidParameterValue"},
			strings.Replace(tileQuestion(deepest17), "TileRow=", "TileRow=9999999", 1): {400, "TileOutOfRange"},
		} {
			resp, body := get(t, h.URL+service+question)
			if resp.StatusCode != want.status || !bytes.Contains(body, []byte(`exceptionCode="`+want.code+`"`)) || resp.Header.Get("Content-Type") != "application/xml" || bytes.Contains(body, []byte("<script")) {
				t.Errorf("%s: %s %s", question, resp.Status, body)
			}
		}
	}
}

// TestOGCTiles: rows come before columns; outside the limits 404 (OGC 20-057,
// requirement tc-error).
func TestOGCTiles(t *testing.T) {
	h := start(t, makePack(t, "Site one"))
	at := func(set string, z, row, col uint32) string {
		return fmt.Sprintf("%s/collections/site-one/map/tiles/%s/%d/%d/%d", h.URL, set, z, row, col)
	}
	d := deepest17
	if resp, body := get(t, at("WebMercatorQuad", 17, d.Y, d.X)); resp.StatusCode != 200 || !bytes.Equal(body, quarters(t)) {
		t.Errorf("%s", resp.Status)
	}
	for _, bad := range []string{
		at("WebMercatorQuad", 17, d.X, d.Y), at("WebMercatorQuad", 18, d.Y*2, d.X*2), at("WebMercatorQuad", 17, d.Y+1, d.X), at("WorldCRS84Quad", 17, d.Y, d.X),
		h.URL + "/collections/none", h.URL + "/collections/site-one/map/tiles/Other", h.URL + "/tileMatrixSets/Other", h.URL + "/collections/site-one/tiles",
	} {
		if resp, _ := get(t, bad); resp.StatusCode != 404 {
			t.Errorf("%s: %s", bad, resp.Status)
		}
	}
}

// TestStandardDocuments: each is told once in full and afterwards by its ETag,
// compressed where that pays, and its head alone to HEAD.
func TestStandardDocuments(t *testing.T) {
	h := start(t, makePack(t, "Site one"))
	for path, media := range map[string]string{
		"/?f=json": "application/json", "/conformance": "application/json", "/collections": "application/json", "/collections/site-one": "application/json",
		"/collections/site-one/map/tiles": "application/json", "/collections/site-one/map/tiles/WebMercatorQuad": "application/json",
		"/tileMatrixSets": "application/json", "/tileMatrixSets/WebMercatorQuad": "application/json", "/api": "application/vnd.oai.openapi+json;version=3.0",
		"/wmts/1.0.0/WMTSCapabilities.xml": "application/xml", "/packs/site-one/wmts/1.0.0/WMTSCapabilities.xml": "application/xml",
		"/wmts?service=WMTS&request=GetCapabilities": "application/xml", "/packs/site-one/tilejson.json": "application/json",
	} {
		resp, body := get(t, h.URL+path)
		if resp.StatusCode != 200 || resp.Header.Get("Content-Type") != media || len(body) == 0 {
			t.Errorf("%s: %s %s", path, resp.Status, resp.Header.Get("Content-Type"))
			continue
		}
		if again, _ := get(t, h.URL+path, "If-None-Match", resp.Header.Get("ETag")); again.StatusCode != 304 {
			t.Errorf("%s: conditional: %s", path, again.Status)
		}
		if small, packed := get(t, h.URL+path, "Accept-Encoding", "gzip"); len(body) > 2000 && (small.Header.Get("Content-Encoding") != "gzip" || len(packed) >= len(body)) {
			t.Errorf("%s: %d bytes, not compressed", path, len(body))
		}
		head, err := http.Head(h.URL + path)
		if err != nil || head.StatusCode != 200 || head.Header.Get("Content-Type") != media {
			t.Errorf("%s: HEAD: %v %v", path, head, err)
		}
	}
}

// TestStandardDocumentsGolden: each document, to the letter.
func TestStandardDocumentsGolden(t *testing.T) {
	h := start(t, makePack(t, "Site one"))
	var all strings.Builder
	for _, path := range []string{
		"/?f=json", "/conformance", "/collections", "/collections/site-one", "/collections/site-one/map/tiles", "/collections/site-one/map/tiles/WebMercatorQuad",
		"/tileMatrixSets", "/api", "/packs/site-one/wmts/1.0.0/WMTSCapabilities.xml", "/packs/site-one/tilejson.json", "/wmts?service=WMTS&request=GetTile",
	} {
		_, body := get(t, h.URL+path)
		var indented bytes.Buffer
		if json.Indent(&indented, body, "", " ") == nil {
			body = indented.Bytes()
		}
		fmt.Fprintf(&all, "== %s\n%s\n", path, strings.TrimSpace(strings.ReplaceAll(string(body), h.URL, "http://laptop.example")))
	}
	version := regexp.MustCompile(`[0-9a-f]{16}-[0-9a-f]{4}`) // it depends on when the file was written
	packed := regexp.MustCompile(`packed \d{4}-\d\d-\d\d UTC`)
	golden.Hold(t, "standards", packed.ReplaceAllString(version.ReplaceAllString(all.String(), "VERSION"), "packed DAY UTC"))
}

// TestRootForPeopleAndPrograms: a browser gets the map, a program that asks for
// JSON the landing page.
func TestRootForPeopleAndPrograms(t *testing.T) {
	h := start(t, makePack(t, "Site one"))
	for accept, media := range map[string]string{
		"": "text/html", "*/*": "text/html", "application/json": "application/json", "application/geo+json, application/json": "application/json",
		"text/html,application/xhtml+xml,application/json;q=0.9,*/*;q=0.8": "text/html",
	} {
		resp, _ := get(t, h.URL+"/", "Accept", accept)
		if !strings.HasPrefix(resp.Header.Get("Content-Type"), media) || !slices.Contains(resp.Header.Values("Vary"), "Accept") || !slices.Contains(resp.Header.Values("Vary"), "Accept-Encoding") {
			t.Errorf("%q: %v", accept, resp.Header)
		}
	}
	if resp, _ := get(t, h.URL+"/?f=html", "Accept", "application/json"); !strings.HasPrefix(resp.Header.Get("Content-Type"), "text/html") {
		t.Error("f says HTML")
	}
}

// TestAddressesBehindHTTPS: documents name the scheme and the host that were
// asked.
func TestAddressesBehindHTTPS(t *testing.T) {
	s, err := Open(t.Context(), []string{makePack(t, "Site one")}, Options{Page: page})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for _, path := range []string{"/packs/site-one/tilejson.json", "/wmts/1.0.0/WMTSCapabilities.xml", "/collections", "/?f=json"} {
		for scheme, state := range map[string]*tls.ConnectionState{"http": nil, "https": {}} {
			r := httptest.NewRequestWithContext(t.Context(), http.MethodGet, path, nil)
			r.Host, r.TLS = "field.local:8460", state
			w := httptest.NewRecorder()
			s.ServeHTTP(w, r)
			body := w.Body.String()
			other := map[string]string{"http": "https", "https": "http"}[scheme]
			if !strings.Contains(body, `"`+scheme+"://field.local:8460/") || strings.Contains(body, other+"://field.local") {
				t.Errorf("%s by %s: %s", path, scheme, body)
			}
		}
	}
}

// TestHostileWordsInDocuments: what a pack says of itself cannot leave its
// element.
func TestHostileWordsInDocuments(t *testing.T) {
	h := start(t, makePack(t, `</ows:Title><Layer> & "x"`))
	_, body := get(t, h.URL+"/wmts/1.0.0/WMTSCapabilities.xml")
	d := xml.NewDecoder(bytes.NewReader(body))
	layers := 0
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%v\n%s", err, body)
		}
		if e, is := token.(xml.StartElement); is && e.Name.Local == "Layer" {
			layers++
		}
	}
	if layers != 1 || bytes.Contains(body, []byte("<b>")) {
		t.Errorf("%d layers", layers)
	}
}
