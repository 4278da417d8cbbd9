package standard

// tileset is the description of a set of tiles (OGC 17-083r4, 7.4).
type tileset struct {
	Title       string          `json:"title"`
	Description string          `json:"description,omitempty"`
	Attribution string          `json:"attribution,omitempty"`
	Version     string          `json:"version,omitempty"`
	DataType    string          `json:"dataType"`
	CRS         string          `json:"crs"`
	SetURI      string          `json:"tileMatrixSetURI,omitempty"`
	SetID       string          `json:"tileMatrixSetId,omitempty"`
	MediaTypes  []string        `json:"mediaTypes,omitempty"`
	Limits      []tilesetLimits `json:"tileMatrixSetLimits,omitempty"`
	Bounds      *box            `json:"boundingBox,omitempty"`
	Links       []link          `json:"links"`
}

type tilesetLimits struct {
	Matrix string `json:"tileMatrix"`
	MinRow uint32 `json:"minTileRow"`
	MaxRow uint32 `json:"maxTileRow"`
	MinCol uint32 `json:"minTileCol"`
	MaxCol uint32 `json:"maxTileCol"`
}

func tilesPath(l Layer) string   { return collectionPath(l) + "/map/tiles" }
func tilesetPath(l Layer) string { return tilesPath(l) + "/" + l.SetID() }

// Tilesets lists the sets of tiles of a map: there is one.
func (s Service) Tilesets(l Layer) any {
	t := s.brief(l)
	return map[string]any{"tilesets": []tileset{t}, "links": []link{s.json(tilesPath(l), "self", "this document")}}
}

// brief is what a list has to say of a set of tiles (OGC 20-057, 10).
func (s Service) brief(l Layer) tileset {
	t := tileset{Title: l.Title, DataType: "map", CRS: crsURI, SetID: l.SetID()}
	if l.size() == 256 {
		t.SetURI = quadURI
	}
	t.Links = []link{
		s.json(tilesetPath(l), "self", l.Title),
		s.json(MatrixSetsPath+"/"+l.SetID(), relScheme, setTitle(l.size())),
	}
	return t
}

// Tileset describes the tiles of a map: rows come before columns in their
// addresses.
func (s Service) Tileset(l Layer) any {
	t := s.brief(l)
	t.Description, t.Attribution, t.Version, t.MediaTypes = l.About, l.Credit, l.Version, []string{l.Media}
	b := boxOf(l.Bounds)
	t.Bounds = &b
	for _, m := range l.Limits {
		t.Limits = append(t.Limits, tilesetLimits{matrixID(m.Zoom), m.MinRow, m.MaxRow, m.MinCol, m.MaxCol})
	}
	t.Links = append(t.Links,
		link{Href: s.Base + tilesetPath(l) + "/{tileMatrix}/{tileRow}/{tileCol}", Rel: "item", Type: l.Media, Title: "a tile", Templated: true},
		s.json(collectionPath(l), relGeodata, l.Title),
	)
	return t
}
