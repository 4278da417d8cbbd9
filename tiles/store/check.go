package store

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"time"

	"groundsheet/tiles"
)

// Checked refuses what cannot be a tile and fills Hash and Bytes: what every
// store does before it keeps a record.
func Checked(r Held) (Held, error) {
	switch {
	case !r.Valid():
		return r, fmt.Errorf("cannot keep tile %s: there is no such tile", r.ID)
	case r.Hole && len(r.Data) > 0:
		return r, fmt.Errorf("cannot keep tile %s: a hole has no image", r.ID)
	case r.Hole:
		r.Hash, r.Bytes, r.Media = [32]byte{}, 0, ""
		return r, nil
	case len(r.Data) == 0:
		return r, fmt.Errorf("cannot keep tile %s: the image is empty", r.ID)
	}
	return Hashed(r), nil
}

// AllChecked checks every record of a batch; the first that is refused speaks.
// Whoever brings many has hashed them before, see [Hashed].
func AllChecked(recs []Held) ([]Held, error) {
	rows := make([]Held, len(recs))
	for i, r := range recs {
		var err error
		if rows[i], err = Checked(r); err != nil {
			return nil, err
		}
	}
	return rows, nil
}

// Hashed fills Hash and Bytes of an image, unless this was done before. A
// caller with several workers has it done by them: a store writes in one.
// After that Data must not be changed.
func Hashed(r Held) Held {
	if len(r.Data) == 0 || r.hashed == &r.Data[0] && r.Bytes == len(r.Data) {
		return r
	}
	r.Hash, r.Bytes, r.hashed = sha256.Sum256(r.Data), len(r.Data), &r.Data[0]
	return r
}

// coverText is a cover as a store keeps it: spans are row, first, last column.
type coverText struct {
	Zoom  int         `json:"zoom"`
	Spans [][3]uint32 `json:"spans"`
}

// CoversText writes covers for keeping; [ReadCovers] reads them.
func CoversText(covers []tiles.Cover) ([]byte, error) {
	out := make([]coverText, len(covers))
	for i, c := range covers {
		out[i] = coverText{Zoom: c.Zoom(), Spans: [][3]uint32{}}
		for _, s := range c.Spans() {
			out[i].Spans = append(out[i].Spans, [3]uint32{s.Row, s.First, s.Last})
		}
	}
	return json.Marshal(out)
}

// ReadCovers reads what [CoversText] wrote.
func ReadCovers(text []byte) ([]tiles.Cover, error) {
	var in []coverText
	if err := json.Unmarshal(text, &in); err != nil {
		return nil, fmt.Errorf("the tiles of a job cannot be read: %w", err)
	}
	covers := make([]tiles.Cover, len(in))
	for i, c := range in {
		if c.Zoom < 0 || c.Zoom > tiles.MaxZoom {
			return nil, fmt.Errorf("the tiles of a job cannot be read: zoom %d", c.Zoom)
		}
		spans := make([]tiles.Span, len(c.Spans))
		for k, s := range c.Spans {
			spans[k] = tiles.Span{Row: s[0], First: s[1], Last: s[2]}
		}
		covers[i] = tiles.NewCover(c.Zoom, spans)
	}
	return covers, nil
}

// Moment is a time from microseconds since 1970, as stores keep it; 0 is no
// time.
func Moment(micros int64) time.Time {
	if micros == 0 {
		return time.Time{}
	}
	return time.UnixMicro(micros).UTC()
}

// Micros is the other way.
func Micros(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixMicro()
}
