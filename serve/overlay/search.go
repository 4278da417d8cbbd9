package overlay

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"groundsheet/serve/auth"
	"groundsheet/serve/document"
	"groundsheet/serve/vectortile"
	"groundsheet/tiles"
)

// maxFound is how many features one search returns.
const maxFound = 20

// near gives the records around a place, whole and as they were packed:
// near=LON,LAT in degrees and within=METERS. numberMatched is their number (the word
// of OGC API – Features).
func (s *Server) near(w http.ResponseWriter, r *http.Request, _ *Set, l *largeOverlay) {
	search, ok := parseSearch(r)
	if !ok {
		http.Error(w, "want near=LONGITUDE,LATITUDE in degrees and within=METERS, at most 100000", http.StatusBadRequest)
		return
	}
	x := s.indexOf(w, r, l)
	if x == nil {
		return
	}
	search.Inside = l.derived
	var found []vectortile.Found
	var count int
	err := s.inTurn(r, func(ctx context.Context) (err error) {
		found, count, err = x.Near(ctx, search)
		return err
	})
	if errors.Is(err, errCrowded) {
		document.Unavailable(w, crowdedWords)
		return
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, `{"type":"FeatureCollection","numberMatched":%d,"numberReturned":%d,"features":[`, count, len(found))
	for i, f := range found {
		var feature []byte
		if feature, err = x.Record(f.Feature); err == nil && l.derived {
			feature, err = withoutShape(feature)
		}
		if err != nil {
			break
		}
		if i > 0 {
			b.WriteByte(',')
		}
		b.Write(feature)
	}
	b.WriteString("]}")
	s.Responder.Asset(w, r, document.NewAsset(document.GeoJSON, b.Bytes()), err)
}

func parseSearch(r *http.Request) (s vectortile.Search, ok bool) {
	q := r.URL.Query()
	east, north, _ := strings.Cut(q.Get("near"), ",")
	lon, lonErr := strconv.ParseFloat(east, 64)
	lat, latErr := strconv.ParseFloat(north, 64)
	within, withinErr := strconv.ParseFloat(q.Get("within"), 64)
	// The comparisons also refuse NaN.
	ok = errors.Join(lonErr, latErr, withinErr) == nil &&
		math.Abs(lon) <= 180 && math.Abs(lat) <= tiles.MaxLatitude && within >= 0 && within <= 100_000
	return vectortile.Search{Lon: lon, Lat: lat, Within: within, Most: maxFound}, ok
}

// How many searches one session and one address may run at once, how many more may
// wait and for how long. The project's own choice, no source.
const (
	searchesOfSession = 1
	searchesOfAddress = 4
	searchesWaiting   = 64
	searchWait        = 10 * time.Second
)

// errCrowded says that a search had to wait too long.
var errCrowded = errors.New("too many searches at once")

const crowdedWords = "too many search the records: try again in a moment"

// inTurn runs a search when it is its phone's turn.
func (s *Server) inTurn(r *http.Request, search func(context.Context) error) error {
	done, ok := s.searches.Acquire(r.Context(), auth.PhoneOf(r))
	if !ok {
		return errCrowded
	}
	defer done()
	ctx, cancel := context.WithTimeoutCause(r.Context(), searchWait, errCrowded)
	defer cancel()
	select {
	case s.searching <- struct{}{}:
		defer func() { <-s.searching }()
		return search(r.Context())
	case <-ctx.Done():
		return context.Cause(ctx)
	}
}

// withoutShape is a feature without its geometry, which for a zone of a long line is a
// thousand times the rest.
func withoutShape(feature []byte) ([]byte, error) {
	f := struct{ Properties json.RawMessage }{json.RawMessage("null")}
	err := json.Unmarshal(feature, &f)
	return append(append([]byte(`{"type":"Feature","geometry":null,"properties":`), f.Properties...), '}'), err
}
