package serve

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"groundsheet/serve/auth"
	"groundsheet/serve/vectortile"
	"groundsheet/tiles"
)

// mostNear is how many features one answer tells of.
const mostNear = 20

// featuresNear gives the records round a place, whole and as they were packed:
// near=LON,LAT in degrees and within=METERS. numberMatched says how many there
// are (the word of OGC API – Features).
func (s *Server) featuresNear(w http.ResponseWriter, r *http.Request, _ *site, l *large) {
	search, ok := searchOf(r)
	if !ok {
		http.Error(w, "want near=LONGITUDE,LATITUDE in degrees and within=METERS, at most 100000", http.StatusBadRequest)
		return
	}
	x, err := l.index()
	if err != nil {
		s.fail(w, r, err)
		return
	}
	search.Inside = l.words
	found, count, err := s.look(r, x, search)
	switch {
	case errors.Is(err, errCrowded):
		s.later(w, "too many ask for records near a place: try again in a moment")
		return
	case err != nil:
		s.fail(w, r, err)
		return
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, `{"type":"FeatureCollection","numberMatched":%d,"numberReturned":%d,"features":[`, count, len(found))
	for i, f := range found {
		record, err := x.Record(f.Feature)
		if err == nil && l.words {
			record, err = withoutShape(record)
		}
		if err != nil {
			s.fail(w, r, err)
			return
		}
		if i > 0 {
			b.WriteByte(',')
		}
		b.Write(record)
	}
	b.WriteString("]}")
	newAsset(mediaGeoJSON, b.Bytes()).serve(w, r)
}

// searchOf reads what a request looks for.
func searchOf(r *http.Request) (s vectortile.Search, ok bool) {
	q := r.URL.Query()
	east, north, _ := strings.Cut(q.Get("near"), ",")
	lon, lonErr := strconv.ParseFloat(east, 64)
	lat, latErr := strconv.ParseFloat(north, 64)
	within, withinErr := strconv.ParseFloat(q.Get("within"), 64)
	// The comparisons also refuse what is not a number.
	ok = lonErr == nil && latErr == nil && withinErr == nil && math.Abs(lon) <= 180 && math.Abs(lat) <= tiles.MaxLatitude && within >= 0 && within <= 100_000
	return vectortile.Search{Lon: lon, Lat: lat, Within: within, Most: mostNear}, ok
}

// How many questions by place one session and one address may ask at once, how many more
// may wait and for how long. The project's own choice, no source.
const (
	looksOfSession = 1
	looksOfAddress = 4
	looksWaiting   = 64
	lookPatience   = 10 * time.Second
)

// errCrowded says that a question had to wait too long.
var errCrowded = errors.New("too many ask at once")

// look finds features when it is its phone's turn. A core is left to the tiles.
func (s *Server) look(r *http.Request, x *vectortile.Index, search vectortile.Search) (found []vectortile.Found, count int, err error) {
	done, ok := s.asking.Acquire(r.Context(), auth.PhoneOf(r))
	if !ok {
		return nil, 0, errCrowded
	}
	defer done()
	late := time.NewTimer(lookPatience)
	defer late.Stop()
	select {
	case s.looking <- struct{}{}:
		defer func() { <-s.looking }()
	case <-r.Context().Done():
		return nil, 0, r.Context().Err()
	case <-late.C:
		return nil, 0, errCrowded
	}
	return x.Near(r.Context(), search)
}
