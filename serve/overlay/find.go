package overlay

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"time"

	"groundsheet/pack"
	"groundsheet/serve/document"
	"groundsheet/serve/vectortile"
)

// What one search by words may take. The project's own choice, no source.
const (
	findTime   = 3 * time.Second // then it tells how many it has looked at
	foundMost  = 25              // features in one answer
	foundBytes = 1 << 20         // in one answer, and one feature at least
)

// features gives features of a record by their place, or by their words.
func (s *Server) features(w http.ResponseWriter, r *http.Request, set *Set, l *largeOverlay) {
	if r.URL.Query().Has("find") {
		s.find(w, r, l)
		return
	}
	s.near(w, r, set, l)
}

// find gives the features that hold all words of find=WORDS, whole and as they were packed,
// from=NUMBER on in the order of the overlay. next is where to go on, null at the end.
// numberMatched counts those from there on that match, of numberSearched that were looked at.
func (s *Server) find(w http.ResponseWriter, r *http.Request, l *largeOverlay) {
	q := r.URL.Query()
	from, err := strconv.ParseUint(q.Get("from"), 10, 31)
	if err != nil && q.Get("from") != "" || l.derived {
		http.Error(w, "want find=WORDS and from=NUMBER, counted from 0, of an overlay of records", http.StatusBadRequest)
		return
	}
	x := s.indexOf(w, r, l)
	if x == nil {
		return
	}
	f := finder{words: typedWords(q.Get("find")), whole: l.words}
	err = s.inTurn(r, func(ctx context.Context) error { return f.run(ctx, x, int(from)) })
	if errors.Is(err, errCrowded) {
		document.Unavailable(w, crowdedWords)
		return
	}
	s.Responder.Asset(w, r, document.NewAsset(document.GeoJSON, f.document()), err)
}

// finder is one search by words.
type finder struct {
	words []string
	whole string // words of the record as a whole, folded

	found             [][]byte
	size              int // of found, in bytes
	matched, searched int
	next              *int
}

// run searches from a number on. Running out of time is no error: next says where to go on.
func (f *finder) run(ctx context.Context, x *vectortile.Index, from int) (err error) {
	limited, done := context.WithTimeout(ctx, findTime)
	defer done()
	if f.searched, err = x.Each(limited, from, f.take); err == nil {
		if len(f.words) == 0 { // then it took no more than it gives
			f.searched = max(x.Content().Features-from, 0)
			f.matched = f.searched
		}
		return nil
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return f.stopped(err, from+f.searched)
}

// stopped ends a search early: where to go on, if it ran out of its time alone.
func (f *finder) stopped(err error, at int) error {
	if !errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	if f.next == nil {
		f.next = &at
	}
	return nil
}

// take looks at one feature; it reports whether there is reason to look at another.
func (f *finder) take(n int, record []byte) bool {
	if len(f.words) > 0 && !f.matches(record) {
		return true
	}
	f.matched++
	full := len(f.found) > 0 && (len(f.found) == foundMost || f.size+len(record) > foundBytes)
	switch {
	case f.next != nil: // counted only
	case full:
		f.next = &n
		return len(f.words) > 0
	default:
		f.found = append(f.found, bytes.Clone(record))
		f.size += len(record)
	}
	return true
}

func (f *finder) document() []byte {
	var b bytes.Buffer
	next := "null"
	if f.next != nil {
		next = strconv.Itoa(*f.next)
	}
	fmt.Fprintf(&b, `{"type":"FeatureCollection","numberMatched":%d,"numberSearched":%d,"numberReturned":%d,"next":%s,"features":[`,
		f.matched, f.searched, len(f.found), next)
	b.Write(bytes.Join(f.found, []byte{','}))
	b.WriteString("]}")
	return b.Bytes()
}

// unsearched are the properties that are measured or understood, and not looked for.
var unsearched = regexp.MustCompile(`^(geometry$|depth|accuracy|quality_level|status_as_read|kind_as_read|width_m|decimals|line_in_file|current_ma|frequency_hz)`)

// matches reports whether a feature, with its record as a whole, holds all words.
func (f *finder) matches(record []byte) bool {
	var feature struct{ Properties map[string]json.RawMessage }
	if json.Unmarshal(record, &feature) != nil {
		return false
	}
	missing := make([]string, 0, len(f.words))
	for _, w := range f.words {
		if !strings.Contains(f.whole, w) {
			missing = append(missing, w)
		}
	}
	for key, value := range feature.Properties {
		if len(missing) == 0 {
			break
		}
		if unsearched.MatchString(key) {
			continue
		}
		text := fold(textOf(value))
		left := missing[:0]
		for _, w := range missing {
			if !strings.Contains(text, w) {
				left = append(left, w)
			}
		}
		missing = left
	}
	return len(missing) == 0
}

// textOf is a text or a number as text; "" for what is neither.
func textOf(value json.RawMessage) string {
	switch {
	case len(value) == 0:
		return ""
	case value[0] == '"':
		var text string
		_ = json.Unmarshal(value, &text) // it was read once
		return text
	case value[0] == '-' || value[0] >= '0' && value[0] <= '9':
		return string(value)
	}
	return ""
}

// wordsOf are the words of a record as a whole.
func wordsOf(o pack.Summary) string {
	all := []string{o.Title, o.UtilityName, o.Owner, o.Record, o.Note}
	for i, text := range all {
		all[i] = fold(text)
	}
	return strings.Join(all, "\n")
}
