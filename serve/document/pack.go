package document

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"strings"
	"time"

	"groundsheet/pack"
	"groundsheet/serve/cache"
	"groundsheet/serve/catalog"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/plainmap"
)

// Address is where one version of a pack lies on the server.
type Address struct {
	ID      string // of the pack
	Version string // changes with its file
}

// Path is the address of something of the pack, such as "about.json".
func (a Address) Path(rest string) string { return "/packs/" + a.ID + "/" + rest }

// Query names the version in addresses.
func (a Address) Query() string { return "v=" + a.Version }

// Set is the documents of one version of a pack. Make it with [New].
type Set struct {
	Address
	Known      string // the path of what is derived of the records; "" = the pack has none
	KnownLarge any    // where its parts are, when it is large; nil = it is not

	file      *pack.Pack
	verdict   func() catalog.Verdict
	documents map[string]func() (Asset, error) // by the rest of the path
	large     []Part
	reading   chan struct{} // held by the one that reads
}

// New makes the documents of a pack, more of which are added by [Set.Add].
func New(at Address, file *pack.Pack, verdict func() catalog.Verdict) *Set {
	s := &Set{
		Address: at, file: file, verdict: verdict,
		documents: map[string]func() (Asset, error){}, reading: make(chan struct{}, 1),
	}
	s.AddGeoJSON("area.geojson", func() ([]byte, error) {
		if file.Info.Area == nil {
			return []byte(NoFeatures), nil
		}
		return file.Info.Area, nil
	})
	return s
}

// NoFeatures is an empty collection.
const NoFeatures = `{"type":"FeatureCollection","features":[]}`

// Add adds a document, which is made when it is first asked for and then kept.
func (s *Set) Add(name, media string, body func() ([]byte, error)) {
	s.add(name, media, body, NewAsset)
}

// AddGeoJSON adds a collection without what a page cannot draw, see [Drawable].
func (s *Set) AddGeoJSON(name string, body func() ([]byte, error)) {
	s.Add(name, GeoJSON, func() ([]byte, error) {
		b, err := body()
		if err != nil {
			return nil, err
		}
		return Drawable(b)
	})
}

// AddLarge adds a collection that is kept compressed only, as it is.
func (s *Set) AddLarge(name string, body func() ([]byte, error)) {
	s.add(name, GeoJSON, body, NewLargeAsset)
}

// Paths are the paths of all documents but one of a name, sorted.
func (s *Set) Paths(but string) []string {
	all := []string{s.Path("about.json"), s.Path("tilejson.json")}
	for name := range s.documents {
		if name != but {
			all = append(all, s.Path(name))
		}
	}
	slices.Sort(all)
	return all
}

// Part is a part of the records that comes in vector tiles.
type Part struct {
	TileJSON string   `json:"tilejson"`
	Tiles    string   `json:"tiles"`           // the path of a tile, with {z}, {x} and {y}
	Near     string   `json:"near"`            // where its features are searched for by place
	Whole    string   `json:"whole"`           // the document that holds its features
	Parts    []string `json:"parts,omitempty"` // the property "part" of its features; none = all of the document
}

// AddPart names a part that comes in vector tiles.
func (s *Set) AddPart(p Part) { s.large = append(s.large, p) }

// Large are the parts that come in vector tiles.
func (s *Set) Large() []Part { return s.large }

func (s *Set) add(name, media string, body func() ([]byte, error), convert func(string, []byte) Asset) {
	var once cache.Once[Asset]
	s.documents[name] = func() (Asset, error) {
		return once.Get(func() (Asset, error) {
			b, err := body()
			if err != nil {
				return Asset{}, err
			}
			return convert(media, b), nil
		})
	}
}

// readTime is how long a document may take to read, with waiting for others: a view
// in a hostile file may never end.
const readTime = 10 * time.Second

// errBusy says that a document was not read because others took too long.
var errBusy = errors.New("other documents of the pack take too long to read")

// Read reads one document of the pack at a time: a hostile pack never takes more than
// one core from the others.
func (s *Set) Read(ctx context.Context, read func(context.Context) ([]byte, error)) ([]byte, error) {
	ctx, cancel := context.WithTimeout(ctx, readTime)
	defer cancel()
	select {
	case s.reading <- struct{}{}:
		defer func() { <-s.reading }()
		return read(ctx)
	case <-ctx.Done():
		return nil, errBusy
	}
}

// Serve answers with the document of a name.
func (s *Responder) Serve(w http.ResponseWriter, r *http.Request, set *Set, name string) {
	document, ok := set.documents[name]
	switch {
	case name == "about.json":
		s.JSON(w, r, JSON, set.about())
	case !ok:
		http.Error(w, "there is no such document in this pack", http.StatusNotFound)
	default:
		a, err := document()
		s.Asset(w, r, a, err)
	}
}

// drawn is a row of the legend of a drawn base: what it shows, and how.
type drawn struct {
	pack.Drawn
	Words string        `json:"words"`
	Shape string        `json:"shape"` // "area", "line" or "point", mostly
	Look  plainmap.Look `json:"look"`
}

// about is what the page shows of a pack besides the map. It changes when the pack
// has been checked.
func (s *Set) about() any {
	info := s.file.Info
	var rows []drawn
	for _, d := range info.About.Source.Legend() {
		rows = append(rows, drawn{d, d.Words(), d.Role.Shape(), plainmap.LookOf(d.Role)})
	}
	return struct {
		pack.About
		Drawn           []drawn         `json:"drawn,omitempty"`
		ID              string          `json:"id"`
		TileJSON        string          `json:"tilejson"`
		Area            string          `json:"area"`
		Overlays        string          `json:"overlays"`
		Known           string          `json:"known"` // "" when the pack has none
		KnownLarge      any             `json:"known_large,omitempty"`
		Deepest         int             `json:"deepest_zoom"`
		Shallowest      int             `json:"shallowest_zoom"`
		Cautions        []string        `json:"cautions"`
		ExpectedMissing []string        `json:"expected_missing"`
		Verdict         catalog.Verdict `json:"verdict"`
		Seal            string          `json:"seal"` // its beginning, as people compare it; "" for a pack without
	}{
		info.About, rows, s.ID, s.Path("tilejson.json"), s.Path("area.geojson"), s.Path("overlays.json"), s.Known, s.KnownLarge,
		info.Zooms.Max, info.Zooms.Min, pack.Cautions(info.About), append([]string{}, info.About.ExpectedMissing...),
		s.verdict(), info.Seals.Name(),
	}
}

// List answers with all packs, by name; of one name, the newest first.
func (s *Responder) List(w http.ResponseWriter, r *http.Request, sets []*Set) {
	type entry struct {
		ID      string          `json:"id"`
		Name    string          `json:"name"`
		Number  string          `json:"number"`
		Source  string          `json:"source"`
		Deepest int             `json:"deepest_zoom"`
		Packed  time.Time       `json:"packed"`
		About   string          `json:"about"`
		Version string          `json:"version"`
		Verdict catalog.Verdict `json:"verdict"`
		Job     string          `json:"job,omitempty"` // the same for the packs of one job; "" = not known
		Records int             `json:"records"`
	}
	all := []entry{}
	for _, s := range sets {
		i := s.file.Info
		all = append(all, entry{s.ID, i.Name, i.About.Number, i.About.Source.Name, i.Zooms.Max,
			i.About.Packed, s.Path("about.json"), s.Version, s.verdict(), jobOf(i), len(i.Overlays)})
	}
	slices.SortStableFunc(all, func(a, b entry) int {
		return cmp.Or(strings.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)), b.Packed.Compare(a.Packed),
			strings.Compare(a.Number, b.Number), strings.Compare(a.Source, b.Source))
	})
	s.JSON(w, r, JSON, map[string]any{"packs": all})
}

// jobOf tells by which packs are of one job: its base maps have one name, one number
// and one area, to the byte.
func jobOf(i pack.Info) string {
	if !i.Own || len(i.Area) == 0 {
		return ""
	}
	sum := sha256.Sum256(slices.Concat([]byte(i.Name+"\x00"+i.About.Number+"\x00"), i.Area))
	return hex.EncodeToString(sum[:8])
}

// collection is a GeoJSON FeatureCollection, its features unread.
type collection struct {
	Type     string            `json:"type"`
	NotDrawn int               `json:"not_drawn,omitempty"` // a foreign member (RFC 7946, 6.1)
	Features []json.RawMessage `json:"features"`
}

// Filter gives a collection with those features that keep admits; err is what is wrong
// with a feature. When counted, not_drawn says how many it does not admit.
func Filter(body []byte, counted bool, keep func(f geojson.Feature, err error) bool) ([]byte, error) {
	kept := collection{Type: "FeatureCollection", Features: []json.RawMessage{}}
	err := geojson.Each(body, func(raw []byte, f geojson.Feature, err error) error {
		if keep(f, err) {
			kept.Features = append(kept.Features, raw)
		} else if counted {
			kept.NotDrawn++
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return json.Marshal(kept)
}

// Drawable leaves out of a collection what a page cannot draw: features that are not
// GeoJSON or lie off the globe, as a damaged or hostile pack may hold. The member
// not_drawn counts them. A collection without such features stays as it is.
func Drawable(body []byte) ([]byte, error) {
	if _, err := geojson.Read(body); err == nil {
		return body, nil
	}
	return Filter(body, true, func(_ geojson.Feature, err error) bool { return err == nil })
}
