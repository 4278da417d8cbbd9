package standard

import "groundsheet/tiles"

// Paths of OGC API - Tiles below the site's address (OGC 20-057, table 3: the
// recommended ones).
const (
	ConformancePath = "/conformance"
	APIPath         = "/api"
	CollectionsPath = "/collections"
	MatrixSetsPath  = "/tileMatrixSets"
)

// Media of the documents.
const (
	mediaJSON = "application/json"
	MediaAPI  = "application/vnd.oai.openapi+json;version=3.0" // of the definition of the interface
)

// Relations of links, as registered by OGC.
const (
	relConformance = "http://www.opengis.net/def/rel/ogc/1.0/conformance"
	relData        = "http://www.opengis.net/def/rel/ogc/1.0/data"
	relSchemes     = "http://www.opengis.net/def/rel/ogc/1.0/tiling-schemes"
	relScheme      = "http://www.opengis.net/def/rel/ogc/1.0/tiling-scheme"
	relMapTiles    = "http://www.opengis.net/def/rel/ogc/1.0/tilesets-map"
	relGeodata     = "http://www.opengis.net/def/rel/ogc/1.0/geodata"
)

type link struct {
	Href      string `json:"href"`
	Rel       string `json:"rel"`
	Type      string `json:"type,omitempty"`
	Title     string `json:"title,omitempty"`
	Templated bool   `json:"templated,omitempty"`
}

func (s Service) json(path, rel, title string) link {
	return link{Href: s.Base + path, Rel: rel, Type: mediaJSON, Title: title}
}

// Landing is the landing page (OGC 19-072, 7.2).
func (s Service) Landing() any {
	return map[string]any{
		"title": s.Title, "description": "Maps of a job site, served on the hotspot there.",
		"links": []link{
			s.json("/?f=json", "self", "this document"),
			{Href: s.Base + "/", Rel: "alternate", Type: "text/html", Title: "the map"},
			{Href: s.Base + APIPath, Rel: "service-desc", Type: MediaAPI, Title: "what can be asked here"},
			s.json(ConformancePath, relConformance, "standards that are kept"),
			s.json(ConformancePath, "conformance", "standards that are kept"),
			s.json(CollectionsPath, relData, "the maps"),
			s.json(CollectionsPath, "data", "the maps"),
			s.json(MatrixSetsPath, relSchemes, "tile matrix sets"),
		},
	}
}

// Conformance lists the classes of requirements that hold here. Collections
// are not among them: OGC API - Common, Part 2 asks more of them than this site
// has.
func (s Service) Conformance() any {
	const common, core = "http://www.opengis.net/spec/ogcapi-common-1/1.0/conf/", "http://www.opengis.net/spec/ogcapi-tiles-1/1.0/conf/"
	all := []string{common + "core", common + "landing-page", common + "json", common + "oas30", core + "core", core + "tileset", core + "tilesets-list"}
	formats := map[string]string{"image/png": core + "png", "image/jpeg": core + "jpeg"}
	for _, l := range s.Layers {
		if class := formats[l.Media]; class != "" {
			all = append(all, class)
			delete(formats, l.Media)
		}
	}
	return map[string]any{"conformsTo": all}
}

type collection struct {
	ID          string   `json:"id"`
	Title       string   `json:"title"`
	Description string   `json:"description,omitempty"`
	Attribution string   `json:"attribution,omitempty"`
	Extent      extent   `json:"extent"`
	CRS         []string `json:"crs"`
	DataType    string   `json:"dataType"`
	Links       []link   `json:"links"`
}

type extent struct {
	Spatial struct {
		Box [][4]float64 `json:"bbox"`
		CRS string       `json:"crs"`
	} `json:"spatial"`
}

func collectionPath(l Layer) string { return CollectionsPath + "/" + l.ID }

// Collections lists the maps.
func (s Service) Collections() any {
	all := []collection{}
	for _, l := range s.Layers {
		all = append(all, s.collection(l))
	}
	return map[string]any{"collections": all, "links": []link{s.json(CollectionsPath, "self", "this document")}}
}

// Collection describes one map.
func (s Service) Collection(l Layer) any { return s.collection(l) }

func (s Service) collection(l Layer) collection {
	c := collection{
		ID: l.ID, Title: l.Title, Description: l.About, Attribution: l.Credit, CRS: []string{crsURI}, DataType: "map",
		Links: []link{
			s.json(collectionPath(l), "self", "this document"),
			s.json(tilesPath(l), relMapTiles, "its tiles"),
		},
	}
	c.Extent.Spatial.Box = [][4]float64{{l.Bounds.West, l.Bounds.South, l.Bounds.East, l.Bounds.North}}
	c.Extent.Spatial.CRS = crs84
	return c
}

// MatrixSets lists the tile matrix sets that the maps use.
func (s Service) MatrixSets() any {
	type entry struct {
		ID    string `json:"id"`
		Title string `json:"title"`
		URI   string `json:"uri,omitempty"`
		CRS   string `json:"crs"`
		Links []link `json:"links"`
	}
	all := []entry{}
	for _, size := range s.sizes() {
		set := matrixSetOf(size)
		all = append(all, entry{set.ID, set.Title, set.URI, set.CRS, []link{s.json(MatrixSetsPath+"/"+set.ID, "self", set.Title)}})
	}
	return map[string]any{"tileMatrixSets": all, "links": []link{s.json(MatrixSetsPath, "self", "this document")}}
}

// box is a box in degrees as 17-083r4 writes it.
type box struct {
	Lower [2]float64 `json:"lowerLeft"`
	Upper [2]float64 `json:"upperRight"`
	CRS   string     `json:"crs"`
}

func boxOf(b tiles.Box) box {
	return box{[2]float64{b.West, b.South}, [2]float64{b.East, b.North}, crs84}
}
