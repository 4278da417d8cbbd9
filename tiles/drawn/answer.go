package drawn

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/answer"
	"groundsheet/tiles/plainmap"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
)

// Answerer answers requests for tiles that are drawn from the files of a source. Make
// it with [Open]; it is safe for concurrent use.
type Answerer struct {
	Template string // address of a tile, for source.Source.Templates

	src   source.Source
	drawn *plainmap.Map
	bound orb.Bound // the ground that is drawn: as stated, else that of all files; in fractions of the world square
	tag   string    // of all files as they were read

	mu    sync.Mutex
	names []*placed // the latest first
}

// placed are the names of one square of tiles.
type placed struct {
	first tiles.ID
	once  sync.Once
	names *plainmap.Names
}

// Open reads the files of a source of kind drawn. The fault is [Unusable], one of
// package vector, or of the disk.
func Open(ctx context.Context, src source.Source) (*Answerer, error) {
	files, err := readAll(src.Draw)
	if err != nil {
		return nil, err
	}
	a := &Answerer{Template: answer.Template("drawn"), src: src}
	var shapes []plainmap.Shape
	sum := sha256.New()
	fmt.Fprintf(sum, "%d %s", plainmap.Version, src.Fingerprint())
	for _, f := range files {
		shapes = append(shapes, f.shapes...)
		fmt.Fprintf(sum, "\n%s", f.stamp)
	}
	a.tag = hex.EncodeToString(sum.Sum(nil)[:12])
	a.drawn = plainmap.New(shapes)
	a.bound, _ = a.drawn.Bound() // a file without shapes is refused
	if b := src.Bounds; b != nil {
		west, north := tiles.Project(b.West, b.North)
		east, south := tiles.Project(b.East, b.South)
		a.bound = orb.Bound{Min: orb.Point{west, north}, Max: orb.Point{east, south}}
	}
	return a, ctx.Err()
}

// Close ends the answering.
func (a *Answerer) Close() error { return nil }

// RoundTrip answers a request for [Answerer.Template]: 200 with the tile, 304 if the
// tag sent still holds, 404 beyond the ground of the files. There is no error.
func (a *Answerer) RoundTrip(r *http.Request) (*http.Response, error) {
	if r.Body != nil {
		defer r.Body.Close()
	}
	h := answer.Header()
	id, err := tiles.ParseID(strings.TrimPrefix(r.URL.Path, "/"))
	if err != nil || !a.has(id) {
		return answer.Response(r, http.StatusNotFound, h, nil), nil
	}
	tag := fmt.Sprintf(`"%s-%d-%d-%d"`, a.tag, id.Z, id.X, id.Y)
	if r.Header.Get("If-None-Match") == tag {
		return answer.Tile(r, h, tag, nil), nil
	}
	data, err := raster.EncodeFlat(a.drawn.Draw(id, a.src.TileSize, a.namesOf(id)))
	if err != nil {
		return nil, err
	}
	return answer.Tile(r, h, tag, data), nil
}

// has reports whether a tile shows ground that the files are of.
func (a *Answerer) has(t tiles.ID) bool {
	n := float64(uint64(1) << t.Z)
	west, north := float64(t.X)/n, float64(t.Y)/n
	return a.bound.Intersects(orb.Bound{Min: orb.Point{west, north}, Max: orb.Point{west + 1/n, north + 1/n}})
}

// keptSquares is how many squares of names are kept besides one for each worker.
const keptSquares = 4

// namesOf are the names of the square of tiles around a tile, placed when they are
// first wanted.
func (a *Answerer) namesOf(t tiles.ID) *plainmap.Names {
	first, n := a.src.Batch(t)
	a.mu.Lock()
	i := slices.IndexFunc(a.names, func(p *placed) bool { return p.first == first })
	p := &placed{first: first}
	if i >= 0 {
		p = a.names[i]
		a.names = slices.Delete(a.names, i, i+1)
	}
	most := keptSquares + source.DefaultConnections
	if t := a.src.Terms; t != nil {
		most = keptSquares + t.Connections
	}
	a.names = append([]*placed{p}, a.names[:min(len(a.names), most)]...)
	a.mu.Unlock()
	p.once.Do(func() { p.names = a.drawn.Names(first, n, a.src.TileSize) })
	return p.names
}
