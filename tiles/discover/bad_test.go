package discover_test

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles/discover"
	"groundsheet/tiles/source"
)

func newRecorder(t *testing.T, h http.HandlerFunc) string {
	t.Helper()
	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	return server.URL
}

// fault is which error is expected.
type fault int

const (
	failed fault = iota
	unfit
	refused
	otherHost
)

func (f fault) is(err error) bool {
	return []bool{errors.Is(err, discover.Failed) || errors.Is(err, discover.Outage), errors.Is(err, discover.Unfit), errors.Is(err, source.Refused), errors.Is(err, source.OtherHost)}[f]
}

const set = `<TileMatrixSet><Identifier>web</Identifier><SupportedCRS>urn:ogc:def:crs:EPSG::3857</SupportedCRS><TileMatrix><Identifier>5</Identifier><ScaleDenominator>17471320.75089743</ScaleDenominator><TopLeftCorner>-20037508.3427892 20037508.3427892</TopLeftCorner><TileWidth>256</TileWidth><TileHeight>256</TileHeight><MatrixWidth>32</MatrixWidth><MatrixHeight>32</MatrixHeight></TileMatrix></TileMatrixSet>`

// caps is a small document of WMTS with one zoom; HOST becomes the server.
func caps(layer, set string) string {
	return `<Capabilities version="1.0.0"><Contents>` + layer + set + `</Contents></Capabilities>`
}

const capsLayer = `<Layer><Identifier>a</Identifier><Style><Identifier>s</Identifier></Style><Format>image/png</Format><TileMatrixSetLink><TileMatrixSet>web</TileMatrixSet></TileMatrixSetLink><ResourceURL format="image/png" resourceType="tile" template="HOST/{TileMatrix}/{TileRow}/{TileCol}.png"/></Layer>`

func wmsCaps(more string) string {
	return `<WMS_Capabilities version="1.3.0"><Service><MaxWidth>600</MaxWidth><LayerLimit>1</LayerLimit></Service><Capability><Request><GetMap><Format>image/png</Format><DCPType><HTTP><Get><OnlineResource href="HOST/wms"/></Get></HTTP></DCPType></GetMap></Request>` + more + `</Capability></WMS_Capabilities>`
}

const wmsLayer = `<Layer><Name>a</Name><CRS>EPSG:3857</CRS><Layer><Name>b</Name></Layer></Layer><Layer><Name>swiss</Name><CRS>EPSG:2056</CRS><CRS>EPSG:4326</CRS></Layer>`

// TestBadDocuments: each is refused with a message that says what to do.
func TestBadDocuments(t *testing.T) {
	tilejson, wmts, wms, ogc := `kind = "tilejson"`, `kind = "wmts"`, "kind = \"wms\"\nlayer = \"a\"", `kind = "ogc-tiles"`
	change := func(old, new string) string { return caps(capsLayer, strings.Replace(set, old, new, 1)) }
	cases := map[string]struct {
		kind, body string
		fault      fault
		says       string
	}{
		"html for tilejson":  {tilejson, `<html></html>`, failed, "not a JSON object"},
		"no version":         {tilejson, `{"tiles": ["HOST/{z}/{x}/{y}"]}`, failed, "tilejson version"},
		"no tiles":           {tilejson, `{"tilejson": "3.0.0", "tiles": []}`, failed, "names no tiles"},
		"vector":             {tilejson, `{"tilejson": "3.0.0", "tiles": ["HOST/{z}/{x}/{y}"], "vector_layers": [{"id": "a"}]}`, unfit, "vector"},
		"relative":           {tilejson, `{"tilejson": "3.0.0", "tiles": ["{z}/{x}/{y}"]}`, unfit, "absolute"},
		"odd variable":       {tilejson, `{"tilejson": "3.0.0", "tiles": ["HOST/{z}/{x}/{y}{ratio}.png"]}`, unfit, "{ratio}"},
		"no row":             {tilejson, `{"tilejson": "3.0.0", "tiles": ["HOST/{z}/{x}.png"]}`, unfit, "lacks"},
		"host by variable":   {tilejson, `{"tilejson": "3.0.0", "tiles": ["http://{x}.example/{z}/{x}/{y}.png"]}`, unfit, "host name"},
		"too shallow":        {tilejson, `{"tilejson": "3.0.0", "tiles": ["HOST/{z}/{x}/{y}"], "maxzoom": 4}`, unfit, "[0, 4]"},
		"another host":       {tilejson, `{"tilejson": "3.0.0", "tiles": ["https://cdn.example/{z}/{x}/{y}"]}`, otherHost, `redirect_hosts = ["cdn.example"]`},
		"forbidden host":     {tilejson, `{"tilejson": "3.0.0", "tiles": ["https://tile.openstreetmap.org/{z}/{x}/{y}.png"]}`, refused, "OSMF"},
		"json for wmts":      {wmts, `{}`, failed, "XML"},
		"cut xml":            {wmts, caps(capsLayer, set)[:200], failed, "XML"},
		"entities":           {wmts, `<!DOCTYPE a [<!ENTITY x "y">]>` + caps(capsLayer, set), failed, "entities"},
		"unknown entity":     {wmts, strings.Replace(caps(capsLayer, set), "<Identifier>a", "<Identifier>&x;", 1), failed, "XML"},
		"too deep":           {wmts, strings.Repeat("<a>", 200) + strings.Repeat("</a>", 200), failed, "nested"},
		"charset":            {wmts, `<?xml version="1.0" encoding="EBCDIC"?>` + caps(capsLayer, set), failed, "character set"},
		"exception":          {wmts, `<ExceptionReport><Exception><ExceptionText>no such user</ExceptionText></Exception></ExceptionReport>`, failed, "no such user"},
		"wms for wmts":       {wmts, wmsCaps(wmsLayer), failed, "WMS_Capabilities"},
		"wmts 2":             {wmts, strings.Replace(caps(capsLayer, set), "1.0.0", "2.0.0", 1), failed, "2.0.0"},
		"no layers":          {wmts, caps("", set), failed, "no layer"},
		"layer not there":    {wmts + "\nlayer = \"b\"", caps(capsLayer, set), unfit, "no layer"},
		"several layers":     {wmts, caps(capsLayer+strings.Replace(capsLayer, ">a<", ">b<", 1), set), unfit, "several layers: a, b"},
		"style not there":    {wmts + "\nstyle = \"x\"", caps(capsLayer, set), unfit, "no style"},
		"format not there":   {wmts + "\nformat = \"image/jpeg\"", caps(capsLayer, set), unfit, "no format"},
		"no picture format":  {wmts, strings.Replace(caps(capsLayer, set), "<Format>image/png", "<Format>application/pdf", 1), unfit, "png, jpeg or webp"},
		"set not there":      {wmts + "\nmatrix_set = \"x\"", caps(capsLayer, set), unfit, "no tile matrix set"},
		"set not defined":    {wmts, caps(capsLayer, ""), unfit, "not in the document"},
		"another system":     {wmts, change("EPSG::3857", "EPSG::2056"), unfit, "2056"},
		"odd scale":          {wmts, change("17471320.75089743", "17000000"), unfit, "no zoom"},
		"scale not exact":    {wmts, change("17471320.75089743", "17482320.7"), unfit, "not exact"},
		"another corner":     {wmts, change("-20037508.3427892 20", "-20030000 20"), unfit, "corner"},
		"axes swapped":       {wmts, change("-20037508.3427892 20037508.3427892", "20037508.3427892 -20037508.3427892"), unfit, "corner"},
		"corner not numbers": {wmts, change("-20037508.3427892 20037508.3427892", "x"), unfit, "corner"},
		"tiles of 512":       {wmts, change("<TileWidth>256", "<TileWidth>512"), unfit, "512×256"},
		"too many tiles":     {wmts, change("<MatrixWidth>32", "<MatrixWidth>33"), unfit, "33×32"},
		"zoom not there":     {wmts, change("<Identifier>5", "<Identifier>x"), unfit, "no zoom 6"},
		"dimension":          {wmts, strings.Replace(caps(capsLayer, set), "{TileMatrix}", "{Time}/{TileMatrix}", 1), unfit, "{Time}"},
		"wms of 1.0.0":       {wms, strings.Replace(wmsCaps(wmsLayer), "1.3.0", "1.0.0", 1), failed, "1.0.0"},
		"wms exception":      {wms, `<ServiceExceptionReport><ServiceException>asked too much</ServiceException></ServiceExceptionReport>`, failed, "asked too much"},
		"wms version":        {wms + "\nversion = \"1.1.1\"", wmsCaps(wmsLayer), unfit, "1.1.1"},
		"wms layer":          {"kind = \"wms\"\nlayer = \"a,x\"", wmsCaps(wmsLayer), unfit, `"x" but a, b, swiss`},
		"wms style":          {wms + "\nstyle = \"x\"", wmsCaps(wmsLayer), unfit, "no style"},
		"wms styles":         {wms + "\nstyle = \"x,y\"", wmsCaps(wmsLayer), unfit, "2 styles"},
		"wms system":         {"kind = \"wms\"\nlayer = \"swiss\"", wmsCaps(wmsLayer), unfit, `crs = "EPSG:4326"`},
		"wms too wide":       {wms + "\nmetatile = 4", wmsCaps(wmsLayer), unfit, "600 pixels"},
		"wms too many":       {"kind = \"wms\"\nlayer = \"a,b\"", wmsCaps(wmsLayer), unfit, "1 layers"},
		"wms elsewhere":      {wms, strings.Replace(wmsCaps(wmsLayer), "HOST", "http://inside.example", 1), otherHost, "inside.example"},
		"ogc without links":  {ogc, `{"title": "a"}`, failed, "no links"},
		"ogc leads nowhere":  {ogc, `{"links": [{"rel": "about", "href": "x"}]}`, unfit, "leads to tiles"},
		"ogc vector":         {ogc, `{"links": [{"rel": "http://www.opengis.net/def/rel/ogc/1.0/tilesets-vector", "href": "x"}]}`, unfit, "vector"},
		"ogc in a circle":    {ogc, `{"links": [{"rel": "data", "href": "HOST/"}]}`, unfit, "within 5 links"},
		"ogc elsewhere":      {ogc, `{"links": [{"rel": "data", "href": "https://b.example/"}]}`, otherHost, "b.example"},
		"ogc collections":    {ogc, `{"collections": [{"id": "a"}, {"id": "b"}]}`, unfit, "several collections: a, b"},
		"ogc another set":    {ogc, `{"tilesets": [{"dataType": "vector"}, {"tileMatrixSetURI": "x/Swiss", "crs": "http://www.opengis.net/def/crs/EPSG/0/2056"}]}`, unfit, "Swiss"},
		"ogc no set":         {ogc, `{"links": [{"rel": "item", "type": "image/png", "templated": true, "href": "{tileMatrix}/{tileRow}/{tileCol}"}]}`, unfit, "names no tile matrix set"},
		"ogc zooms":          {ogc, `{"tileMatrixSetURI": "http://www.opengis.net/def/tilematrixset/OGC/1.0/WebMercatorQuad", "tileMatrixSetLimits": [{"tileMatrix": "4", "maxTileRow": 3, "maxTileCol": 3}], "links": [{"rel": "item", "type": "image/png", "templated": true, "href": "{tileMatrix}/{tileRow}/{tileCol}"}]}`, unfit, "no zoom 5 but zooms 4 to 4"},
		"ogc no place":       {ogc, `{"tileMatrixSetURI": "http://www.opengis.net/def/tilematrixset/OGC/1.0/WebMercatorQuad", "links": [{"rel": "item", "type": "image/png", "templated": true, "href": "{tileMatrix}/{tileRow}"}]}`, unfit, "lacks"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			server := ""
			server = newRecorder(t, func(rw http.ResponseWriter, _ *http.Request) {
				fmt.Fprint(rw, strings.ReplaceAll(c.body, "HOST", server))
			})
			zooms := "\nzooms = [5, 5]"
			if name == "zoom not there" {
				zooms = "\nzooms = [5, 6]"
			}
			if name == "wms system" {
				zooms = "\nzooms = [12, 13]"
			}
			_, err := discover.Resolve(t.Context(), kind(t, c.kind+"\nurl = \""+server+"/\""+zooms), discover.Options{})
			if err == nil || !c.fault.is(err) || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), `"a"`) {
				t.Errorf("%T: %v\nwant %q", err, err, c.says)
			}
		})
	}
}

// TestGoodSmallDocuments: the pieces of the table above do fit when nothing is
// wrong with them.
func TestGoodSmallDocuments(t *testing.T) {
	for text, body := range map[string]string{
		`kind = "wmts"`:                      caps(capsLayer, set),
		"kind = \"wms\"\nlayer = \"a\"":      wmsCaps(wmsLayer),
		"kind = \"wms\"\nlayer = \"b\"":      wmsCaps(wmsLayer), // what it inherits
		"kind = \"tilejson\"":                `{"tilejson": "3.0.0", "tiles": ["HOST/{z}/{x}/{y}"], "minzoom": "wrong", "scheme": "wrong", "bounds": [1]}`,
		"kind = \"wmts\"\nstyle = \"s\" # t": strings.Replace(caps(capsLayer, set), "{TileMatrix}", "{Style}/{TileMatrix}", 1),
	} {
		server := ""
		server = newRecorder(t, func(rw http.ResponseWriter, _ *http.Request) {
			fmt.Fprint(rw, strings.ReplaceAll(body, "HOST", server))
		})
		src, err := discover.Resolve(t.Context(), kind(t, text+"\nurl = \""+server+"/\"\nzooms = [5, 5]"), discover.Options{})
		if err != nil || len(src.Templates) != 1 {
			t.Errorf("%s: %v", text, err)
		}
	}
}

// TestBadServers: what goes wrong on the way to a document.
func TestBadServers(t *testing.T) {
	cases := map[string]struct {
		handler http.HandlerFunc
		fault   fault
		says    string
	}{
		"401":       {func(rw http.ResponseWriter, _ *http.Request) { rw.WriteHeader(401) }, failed, "check the key"},
		"404":       {http.NotFound, failed, "404 Not Found"},
		"511":       {func(rw http.ResponseWriter, _ *http.Request) { rw.WriteHeader(511) }, failed, "sign in"},
		"503":       {func(rw http.ResponseWriter, _ *http.Request) { rw.WriteHeader(503) }, failed, "later"},
		"endless":   {func(rw http.ResponseWriter, r *http.Request) { http.Redirect(rw, r, "/x", 302) }, failed, "3 redirects"},
		"elsewhere": {func(rw http.ResponseWriter, r *http.Request) { http.Redirect(rw, r, "http://b.example/", 302) }, otherHost, "b.example"},
		"forbidden": {func(rw http.ResponseWriter, r *http.Request) {
			http.Redirect(rw, r, "https://tile.openstreetmap.org/", 302)
		}, refused, "OSMF"},
		"too long": {func(rw http.ResponseWriter, _ *http.Request) { rw.Write(make([]byte, 17<<20)) }, failed, "16 MB"},
		"cut short": {func(rw http.ResponseWriter, _ *http.Request) {
			rw.Header().Set("Content-Length", "100")
			rw.Write([]byte("{"))
		}, failed, "no answer"},
		"never answers": {func(_ http.ResponseWriter, r *http.Request) { <-r.Context().Done() }, failed, "no whole answer within"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			server := newRecorder(t, c.handler)
			t.Setenv("GS_KEY", "secret-88")
			src := kind(t, "kind = \"tilejson\"\nurl = \""+server+"/?k={key}\"\nkey_env = \"GS_KEY\"\nzooms = [5, 5]")
			o := discover.Options{}
			if name == "never answers" {
				o.Timeout = 500 * time.Millisecond
			}
			_, err := discover.Resolve(t.Context(), src, o)
			if err == nil || !c.fault.is(err) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%T: %v\nwant %q", err, err, c.says)
			}
			if err != nil && strings.Contains(err.Error(), "secret") {
				t.Errorf("the key is in the message: %v", err)
			}
		})
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	src := kind(t, "kind = \"tilejson\"\nurl = \"http://127.0.0.1:9/\"\nzooms = [5, 5]")
	if _, err := discover.Resolve(ctx, src, discover.Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
	if _, err := discover.Resolve(t.Context(), src, discover.Options{}); !failed.is(err) {
		t.Errorf("nobody listens: %v", err)
	}
}

// TestKeyStaysWithItsHost: the key is sent to the service, is not in what the
// source shows, and is not sent elsewhere even if the document says so.
func TestKeyStaysWithItsHost(t *testing.T) {
	t.Setenv("GS_KEY", "s e/cret")
	asked, template := "", ""
	server := ""
	server = newRecorder(t, func(rw http.ResponseWriter, r *http.Request) {
		asked = r.URL.RawQuery
		fmt.Fprintf(rw, `{"tilejson": "3.0.0", "tiles": [%q]}`, strings.ReplaceAll(template, "HOST", server))
	})
	text := "kind = \"tilejson\"\nurl = \"" + server + "/?k={key}\"\nkey_env = \"GS_KEY\"\nzooms = [5, 5]\nredirect_hosts = [\"cdn.example\"]"
	template = "HOST/{z}/{x}/{y}?k=s+e%2Fcret"
	src, err := discover.Resolve(t.Context(), kind(t, text), discover.Options{})
	if err != nil || asked != "k=s+e%2Fcret" || src.Templates[0] != server+"/{z}/{x}/{y}?k={key}" {
		t.Errorf("asked %s, templates %v, %v", asked, src.Templates, err)
	}
	template = "https://cdn.example/{z}/{x}/{y}?k=s+e%2Fcret"
	if _, err = discover.Resolve(t.Context(), kind(t, text), discover.Options{}); !otherHost.is(err) || !strings.Contains(err.Error(), "key") || strings.Contains(err.Error(), "cret") {
		t.Errorf("the key to another host: %v", err)
	}
	template = "https://cdn.example/{z}/{x}/{y}"
	if _, err = discover.Resolve(t.Context(), kind(t, text), discover.Options{}); err != nil {
		t.Errorf("a host that is named: %v", err)
	}
}

// TestHoursAreKept: out of its hours a service is not asked for its document.
func TestHoursAreKept(t *testing.T) {
	count := 0
	server := newRecorder(t, func(http.ResponseWriter, *http.Request) { count++ })
	src := kind(t, "kind = \"tilejson\"\nurl = \""+server+"/\"\nzooms = [5, 5]\n[a.terms]\nhours = [\"20:00-06:00\"]\ntime_zone = \"UTC\"")
	noon := func() time.Time { return time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC) }
	if _, err := discover.Resolve(t.Context(), src, discover.Options{Now: noon}); !failed.is(err) || !strings.Contains(err.Error(), "2026-06-01 20:00 UTC") || count != 0 {
		t.Errorf("asked %d times, %v", count, err)
	}
}
