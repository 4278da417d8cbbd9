package discover_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/practice"
)

// world is one picture of the world behind every kind of service: what the
// practice source draws, as PNG. Its documents have the elements that the
// standards ask for (OGC 07-057r7, 06-042, 01-068r3, 20-057; TileJSON 3.0.0).
type world struct {
	*httptest.Server
	size  int    // of a tile, in pixels
	style string // of the WMTS layer

	mu    sync.Mutex
	drawn map[tiles.ID]*image.RGBA
	asked []string // path and query of every request
}

const (
	low, high = 10, 18
	half      = 20037508.3427892 // OGC 17-083r4, Annex D
)

func newWorld(t testing.TB, size int) *world {
	w := &world{size: size, style: "plain one", drawn: map[tiles.ID]*image.RGBA{}}
	mux := http.NewServeMux()
	mux.HandleFunc("/xyz/{z}/{x}/{y}", w.xyz)
	mux.HandleFunc("/tms/{z}/{x}/{y}", w.tms)
	mux.HandleFunc("/tile.json", w.tileJSON)
	mux.HandleFunc("/wmts/caps.xml", w.wmtsREST)
	mux.HandleFunc("/wmts/{style}/{set}/{z}/{y}/{x}", w.xyz)
	mux.HandleFunc("/wmts/kvp", w.wmtsKVP)
	mux.HandleFunc("/wms", w.wms)
	mux.HandleFunc("/ogc/{rest...}", w.ogc)
	w.Server = httptest.NewServer(http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
		w.mu.Lock()
		w.asked = append(w.asked, r.URL.RequestURI())
		w.mu.Unlock()
		mux.ServeHTTP(rw, r)
	}))
	t.Cleanup(w.Close)
	return w
}

// tile draws a tile of the world's size.
func (w *world) tile(id tiles.ID) *image.RGBA {
	w.mu.Lock()
	defer w.mu.Unlock()
	if m, ok := w.drawn[id]; ok {
		return m
	}
	m := practice.Draw(id)
	if w.size == 512 { // four of the next zoom
		m = image.NewRGBA(image.Rect(0, 0, 512, 512))
		for i, c := range id.Children() {
			at := image.Pt(i%2*256, i/2*256)
			draw.Draw(m, image.Rectangle{at, at.Add(image.Pt(256, 256))}, practice.Draw(c), image.Point{}, draw.Src)
		}
	}
	w.drawn[id] = m
	return m
}

func send(rw http.ResponseWriter, m image.Image) {
	var b bytes.Buffer
	_ = (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, m) // to memory
	rw.Header().Set("Content-Type", "image/png")
	_, _ = rw.Write(b.Bytes()) // whoever has gone is no matter
}

func (w *world) send(rw http.ResponseWriter, r *http.Request, z, x, y string) {
	id, err := tiles.ParseID(strings.ReplaceAll(z+"/"+x+"/"+y, ".png", ""))
	if err != nil || id.Z < low || id.Z > high {
		http.NotFound(rw, r)
		return
	}
	send(rw, w.tile(id))
}

func (w *world) xyz(rw http.ResponseWriter, r *http.Request) {
	w.send(rw, r, strings.TrimPrefix(r.PathValue("z"), "L"), r.PathValue("x"), r.PathValue("y"))
}

func (w *world) tms(rw http.ResponseWriter, r *http.Request) {
	id, err := tiles.ParseID(r.PathValue("z") + "/" + r.PathValue("x") + "/" + strings.TrimSuffix(r.PathValue("y"), ".png"))
	if err != nil {
		http.NotFound(rw, r)
		return
	}
	w.send(rw, r, fmt.Sprint(id.Z), fmt.Sprint(id.X), fmt.Sprint(id.TMSRow()))
}

func (w *world) tileJSON(rw http.ResponseWriter, r *http.Request) {
	scheme, folder := "xyz", "xyz"
	if r.URL.Query().Has("tms") {
		scheme, folder = "tms", "tms"
	}
	_ = json.NewEncoder(rw).Encode(map[string]any{
		"tilejson": "3.0.0", "tiles": []string{w.URL + "/" + folder + "/{z}/{x}/{y}.png?a", w.URL + "/" + folder + "/{z}/{x}/{y}.png?b"},
		"vector_layers": []any{}, "attribution": "<a href='https://example.org'>Invented &amp; drawn</a>", "name": "World", "scheme": scheme,
		"bounds": []float64{-141, 40, -140, 41}, "minzoom": low, "maxzoom": high,
	})
}

// matrixSet writes a tile matrix set; name makes the identifier of a zoom.
func (w *world) matrixSet(id, crs string, name func(z int) string) string {
	var b strings.Builder
	fmt.Fprintf(&b, `<TileMatrixSet><ows:Identifier>%s</ows:Identifier><ows:SupportedCRS>%s</ows:SupportedCRS>`, id, crs)
	for z := low; z <= high; z++ {
		scale := 559082264.0287178 / math.Exp2(float64(z)) * 256 / float64(w.size)
		fmt.Fprintf(&b, `<TileMatrix><ows:Identifier>%s</ows:Identifier><ScaleDenominator>%.16g</ScaleDenominator><TopLeftCorner>-%v %v</TopLeftCorner>`+
			`<TileWidth>%d</TileWidth><TileHeight>%d</TileHeight><MatrixWidth>%d</MatrixWidth><MatrixHeight>%d</MatrixHeight></TileMatrix>`,
			name(z), scale, half, half, w.size, w.size, 1<<z, 1<<z)
	}
	return b.String() + `</TileMatrixSet>`
}

// capabilities writes WMTS 1.0.0: the body of the layer's addresses and the
// operations differ.
func (w *world) capabilities(operations, resource string) string {
	limits := ""
	for z := low; z <= high; z++ {
		a, b := tiles.At(-141, 41, z), tiles.At(-140, 40, z)
		limits += fmt.Sprintf(`<TileMatrixLimits><TileMatrix>L%d</TileMatrix><MinTileRow>%d</MinTileRow><MaxTileRow>%d</MaxTileRow><MinTileCol>%d</MinTileCol><MaxTileCol>%d</MaxTileCol></TileMatrixLimits>`,
			z, a.Y, b.Y, a.X, b.X)
	}
	return `<?xml version="1.0" encoding="UTF-8"?>
<Capabilities xmlns="http://www.opengis.net/wmts/1.0" xmlns:ows="http://www.opengis.net/ows/1.1" xmlns:xlink="http://www.w3.org/1999/xlink" version="1.0.0">
<ows:ServiceIdentification><ows:Title>Invented</ows:Title><ows:ServiceType>OGC WMTS</ows:ServiceType><ows:ServiceTypeVersion>1.0.0</ows:ServiceTypeVersion></ows:ServiceIdentification>
` + operations + `<Contents><Layer><ows:Title>World</ows:Title>
<ows:WGS84BoundingBox><ows:LowerCorner>-141 40</ows:LowerCorner><ows:UpperCorner>-140 41</ows:UpperCorner></ows:WGS84BoundingBox>
<ows:Identifier>world</ows:Identifier><Style><ows:Identifier>other</ows:Identifier></Style><Style isDefault="true"><ows:Identifier>` + w.style + `</ows:Identifier></Style>
<Format>image/png</Format><TileMatrixSetLink><TileMatrixSet>degrees</TileMatrixSet></TileMatrixSetLink>
<TileMatrixSetLink><TileMatrixSet>web</TileMatrixSet><TileMatrixSetLimits>` + limits + `</TileMatrixSetLimits></TileMatrixSetLink>` + resource + `</Layer>
` + w.matrixSet("degrees", "urn:ogc:def:crs:EPSG::4326", strconv.Itoa) + w.matrixSet("web", "urn:ogc:def:crs:EPSG::3857", func(z int) string { return fmt.Sprint("L", z) }) + `
</Contents></Capabilities>`
}

func (w *world) wmtsREST(rw http.ResponseWriter, _ *http.Request) {
	rw.Header().Set("Content-Type", "application/xml")
	fmt.Fprint(rw, w.capabilities("", `<ResourceURL format="image/png" resourceType="tile" template="`+w.URL+`/wmts/{Style}/{TileMatrixSet}/{TileMatrix}/{TileRow}/{TileCol}.png"/>`))
}

// fold gives parameters by their names in capitals.
func fold(q url.Values) map[string]string {
	out := map[string]string{}
	for name, v := range q {
		out[strings.ToUpper(name)] = v[0]
	}
	return out
}

func (w *world) wmtsKVP(rw http.ResponseWriter, r *http.Request) {
	q := fold(r.URL.Query())
	switch {
	case q["SERVICE"] != "WMTS" || q["TOKEN"] != "1":
		rw.WriteHeader(400)
		fmt.Fprint(rw, `<ows:ExceptionReport xmlns:ows="http://www.opengis.net/ows/1.1" version="1.1.0"><ows:Exception exceptionCode="MissingParameterValue"><ows:ExceptionText>no SERVICE or token</ows:ExceptionText></ows:Exception></ows:ExceptionReport>`)
	case q["REQUEST"] == "GetCapabilities":
		get := `<ows:DCP><ows:HTTP><ows:Get xlink:href="` + w.URL + `/wmts/kvp?"><ows:Constraint name="GetEncoding"><ows:AllowedValues><ows:Value>KVP</ows:Value></ows:AllowedValues></ows:Constraint></ows:Get></ows:HTTP></ows:DCP>`
		fmt.Fprint(rw, w.capabilities(`<ows:OperationsMetadata><ows:Operation name="GetCapabilities">`+get+`</ows:Operation><ows:Operation name="GetTile">`+get+`</ows:Operation></ows:OperationsMetadata>`, ""))
	case q["REQUEST"] == "GetTile" && q["VERSION"] == "1.0.0" && q["LAYER"] == "world" && q["STYLE"] == w.style && q["FORMAT"] == "image/png" && q["TILEMATRIXSET"] == "web":
		w.send(rw, r, strings.TrimPrefix(q["TILEMATRIX"], "L"), q["TILECOL"], q["TILEROW"])
	default:
		http.Error(rw, "bad parameters", 400)
	}
}

const wmsLayers = `<Layer><Title>All</Title>%s<Layer queryable="0"><Name>world</Name><Title>World</Title>%s<Style><Name>plain</Name><Title>Plain</Title></Style></Layer><Layer><Name>over</Name><Title>Over</Title></Layer></Layer>`

func (w *world) wms(rw http.ResponseWriter, r *http.Request) {
	q := fold(r.URL.Query())
	online := `<OnlineResource xmlns:xlink="http://www.w3.org/1999/xlink" xlink:type="simple" xlink:href="` + w.URL + `/wms?map=a&amp;"/>`
	request := `<Request><GetMap><Format>image/tiff</Format><Format>image/png</Format><DCPType><HTTP><Get>` + online + `</Get></HTTP></DCPType></GetMap></Request>`
	switch {
	case q["REQUEST"] == "GetCapabilities" && q["VERSION"] == "1.1.1":
		fmt.Fprintf(rw, `<?xml version="1.0" encoding="ISO-8859-1" standalone="no"?>
<!DOCTYPE WMT_MS_Capabilities SYSTEM "http://schemas.opengis.net/wms/1.1.1/WMS_MS_Capabilities.dtd" [ <!ELEMENT VendorSpecificCapabilities EMPTY> ]>
<WMT_MS_Capabilities version="1.1.1"><Service><Name>OGC:WMS</Name><Title>Invented`+"\xe9"+`</Title>%s</Service><Capability>%s%s</Capability></WMT_MS_Capabilities>`,
			online, request, fmt.Sprintf(wmsLayers, `<SRS>EPSG:4326</SRS><SRS>EPSG:3857 EPSG:900913</SRS>`, `<LatLonBoundingBox minx="-141" miny="40" maxx="-140" maxy="41"/>`))
	case q["REQUEST"] == "GetCapabilities":
		fmt.Fprintf(rw, `<?xml version="1.0" encoding="UTF-8"?>
<WMS_Capabilities xmlns="http://www.opengis.net/wms" version="1.3.0"><Service><Name>WMS</Name><Title>Invented</Title>%s<MaxWidth>2048</MaxWidth><MaxHeight>2048</MaxHeight></Service><Capability>%s%s</Capability></WMS_Capabilities>`,
			online, request, fmt.Sprintf(wmsLayers, `<CRS>CRS:84</CRS><CRS>EPSG:4326</CRS><CRS>EPSG:3857</CRS>`,
				`<EX_GeographicBoundingBox><westBoundLongitude>-141</westBoundLongitude><eastBoundLongitude>-140</eastBoundLongitude><southBoundLatitude>40</southBoundLatitude><northBoundLatitude>41</northBoundLatitude></EX_GeographicBoundingBox>`))
	case q["REQUEST"] == "GetMap" && q["LAYERS"] == "world" && q["FORMAT"] == "image/png":
		if m, err := w.getMap(q); err != nil {
			fmt.Fprintf(rw, `<ServiceExceptionReport version="1.3.0" xmlns="http://www.opengis.net/ogc"><ServiceException>%v</ServiceException></ServiceExceptionReport>`, err)
		} else {
			send(rw, m)
		}
	default:
		http.Error(rw, "bad parameters", 400)
	}
}

// getMap samples the world at the middle of every pixel, whatever the box.
func (w *world) getMap(q map[string]string) (image.Image, error) {
	width, _ := strconv.Atoi(q["WIDTH"])
	height, _ := strconv.Atoi(q["HEIGHT"])
	var box [4]float64
	for i, text := range strings.Split(q["BBOX"], ",") {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || i > 3 {
			return nil, fmt.Errorf("BBOX")
		}
		box[i] = v
	}
	crs := q["CRS"]
	if q["VERSION"] == "1.1.1" {
		crs = q["SRS"]
	} else if crs == "EPSG:4326" {
		box = [4]float64{box[1], box[0], box[3], box[2]} // latitude first (OGC 06-042, 6.7.4)
	}
	if width < 1 || height < 1 || width > 4096 || height > 4096 || box[0] >= box[2] || box[1] >= box[3] {
		return nil, fmt.Errorf("BBOX, WIDTH or HEIGHT")
	}
	project := tiles.Project
	switch crs {
	case "EPSG:4326", "CRS:84":
	case "EPSG:3857", "EPSG:900913":
		project = func(e, n float64) (x, y float64) { return 0.5 + e/(2*half), 0.5 - n/(2*half) }
	default:
		return nil, fmt.Errorf("CRS %s", crs)
	}
	left, _ := project(box[0], box[1])
	right, _ := project(box[2], box[3])
	zoom := math.Round(math.Log2(float64(width) / float64(w.size) / (right - left)))
	out := image.NewRGBA(image.Rect(0, 0, width, height))
	for row := range height {
		for col := range width {
			x, y := project(box[0]+(box[2]-box[0])*(float64(col)+0.5)/float64(width), box[3]-(box[3]-box[1])*(float64(row)+0.5)/float64(height))
			x, y = x*math.Exp2(zoom), y*math.Exp2(zoom)
			m := w.tile(tiles.ID{Z: uint32(zoom), X: uint32(x), Y: uint32(y)})
			out.SetRGBA(col, row, m.RGBAAt(int((x-math.Floor(x))*float64(w.size)), int((y-math.Floor(y))*float64(w.size))))
		}
	}
	return out, nil
}

// ogc serves a landing page, two collections, a list and two tilesets.
func (w *world) ogc(rw http.ResponseWriter, r *http.Request) {
	rel := "http://www.opengis.net/def/rel/ogc/1.0/"
	link := func(href, rel, media string) map[string]any {
		return map[string]any{"href": href, "rel": rel, "type": media}
	}
	collection := func(id string) map[string]any {
		return map[string]any{"id": id, "title": "The " + id, "attribution": "Invented",
			"extent": map[string]any{"spatial": map[string]any{"bbox": [][]float64{{-141, 40, -140, 41}}}},
			"links":  []any{link("/ogc/collections/"+id, "self", "application/json"), link(w.URL+"/ogc/collections/"+id+"/map/tiles", rel+"tilesets-map", "application/json")}}
	}
	scheme := "http://www.opengis.net/def/tilematrixset/OGC/1.0/WebMercatorQuad"
	if w.size != 256 {
		scheme = w.URL + "/ogc/sets/web512"
	}
	set := scheme[strings.LastIndexByte(scheme, '/')+1:]
	var answer any
	switch rest := r.PathValue("rest"); rest {
	case "":
		answer = map[string]any{"title": "Invented", "links": []any{link(r.URL.Path, "self", "application/json"), link("collections", "data", "application/json")}}
	case "collections":
		answer = map[string]any{"collections": []any{collection("other"), collection("world")}, "links": []any{}}
	case "collections/world", "collections/other":
		answer = collection(strings.TrimPrefix(rest, "collections/"))
	case "collections/world/map/tiles", "collections/other/map/tiles":
		answer = map[string]any{"tilesets": []any{
			map[string]any{"dataType": "map", "crs": "http://www.opengis.net/def/crs/OGC/1.3/CRS84", "tileMatrixSetURI": "x/WorldCRS84Quad", "links": []any{link("none", "self", "application/json")}},
			map[string]any{"dataType": "map", "crs": map[string]any{"uri": "http://www.opengis.net/def/crs/EPSG/0/3857"}, "tileMatrixSetURI": scheme, "links": []any{link("tiles/"+set, "self", "application/json")}},
		}}
	case "collections/world/map/tiles/" + set:
		answer = w.tileset(scheme, set, link)
	case "sets/web512":
		answer = w.jsonSet()
	default:
		http.NotFound(rw, r)
		return
	}
	rw.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(rw).Encode(answer)
}

func (w *world) tileset(scheme, set string, link func(a, b, c string) map[string]any) any {
	limits := []any{}
	for z := low; z <= high; z++ {
		a, b := tiles.At(-141, 41, z), tiles.At(-140, 40, z)
		limits = append(limits, map[string]any{"tileMatrix": fmt.Sprint(z), "minTileRow": a.Y, "maxTileRow": b.Y, "minTileCol": a.X, "maxTileCol": b.X})
	}
	item := link("/wmts/any/{tileMatrixSetId}/{tileMatrix}/{tileRow}/{tileCol}.png", "item", "image/png")
	item["templated"] = true
	vector := link("/none/{tileMatrix}/{tileRow}/{tileCol}", "item", "application/vnd.mapbox-vector-tile")
	vector["templated"] = true
	return map[string]any{"title": "World", "dataType": "map", "tileMatrixSetURI": scheme, "tileMatrixSetId": set, "tileMatrixSetLimits": limits,
		"links": []any{link(scheme, "http://www.opengis.net/def/rel/ogc/1.0/tiling-scheme", "application/json"), vector, item}}
}

func (w *world) jsonSet() any {
	matrices := []any{}
	for z := low; z <= high; z++ {
		matrices = append(matrices, map[string]any{"id": fmt.Sprint(z), "scaleDenominator": 559082264.0287178 / math.Exp2(float64(z)) * 256 / float64(w.size), "cornerOfOrigin": "topLeft",
			"pointOfOrigin": []float64{-half, half}, "tileWidth": w.size, "tileHeight": w.size, "matrixWidth": 1 << z, "matrixHeight": 1 << z})
	}
	return map[string]any{"id": "web512", "crs": "http://www.opengis.net/def/crs/EPSG/0/3857", "tileMatrices": matrices}
}
