package serve

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"strings"

	"groundsheet/pack"
	"groundsheet/serve/document"
	"groundsheet/serve/tile"
	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

// keepPath is the document that lists what a phone keeps of a pack.
const keepPath = "keep.json"

// maxKept is how many tiles a phone keeps of a pack: browsers are slow with more, and a
// list of more is itself some megabytes. The project's own choice, no source.
const maxKept = 100_000

// keepList is everything that a phone needs to show a pack without the laptop: what it
// asks for, and by what it proves that it has all of it. Nothing is listed unless the
// terms of the base map are stated to allow copies on phones.
type keepList struct {
	Copies    string          `json:"copies"`              // as the terms state it: see [pack.AboutSource]
	Version   string          `json:"version"`             // of the pack
	Tiles     string          `json:"tiles,omitempty"`     // the path of a tile, with {z}, {x} and {y}
	Count     int             `json:"count"`               // of tiles
	TooMany   bool            `json:"too_many,omitempty"`  // more than a phone keeps; the rest is empty
	Bytes     int64           `json:"bytes"`               // of the packed tiles and the records
	Spans     []keepSpan      `json:"spans,omitempty"`     // of tiles
	Documents []string        `json:"documents,omitempty"` // paths
	Large     []document.Part `json:"large,omitempty"`     // records that come in vector tiles
	Box       []float64       `json:"box,omitempty"`       // of the vector tiles to keep: west, south, east, north
}

// keepSpan is tiles side by side. Marks has [markLength] signs for each: the beginning of
// the SHA-256 of the packed image, or dashes where the server renders one.
type keepSpan struct {
	Zoom  int    `json:"z"`
	Row   uint32 `json:"y"`
	First uint32 `json:"x"`
	Marks string `json:"marks"`
}

const markLength = 16

var rendered = strings.Repeat("-", markLength)

// addKeepList adds the list to the documents of a pack; it is made when it is first asked for.
func addKeepList(docs *document.Set, file *pack.Pack, set *tile.Set) {
	docs.Add(keepPath, document.JSON, func() ([]byte, error) {
		return docs.Read(context.Background(), func(ctx context.Context) ([]byte, error) {
			l, err := listToKeep(ctx, docs, file, set)
			if err != nil {
				return nil, err
			}
			return json.Marshal(l)
		})
	})
}

func listToKeep(ctx context.Context, docs *document.Set, file *pack.Pack, set *tile.Set) (keepList, error) {
	l := keepList{Copies: file.Info.About.Source.CopiesOnPhones, Version: docs.Version}
	if l.Copies != source.CopiesAllowed {
		return l, nil
	}
	covers, err := file.Wanted(ctx)
	if err != nil {
		return l, err
	}
	for _, c := range covers {
		l.Count += int(c.Count())
	}
	for zoom := file.Info.Zooms.Max + 1; zoom <= set.Deepest(); zoom++ { // drawn of vector tiles
		of := file.Info.Bounds.Limit(zoom)
		l.Count += int(of.MaxRow-of.MinRow+1) * int(of.MaxCol-of.MinCol+1)
	}
	if l.TooMany = l.Count > maxKept; l.TooMany {
		return l, nil
	}
	l.Count, l.Tiles, l.Documents = 0, set.Template(), docs.Paths(keepPath)
	b := file.Info.Bounds
	l.Large, l.Box = docs.Large(), []float64{b.West, b.South, b.East, b.North}
	for zoom := set.Shallowest(); zoom < file.Info.Zooms.Min; zoom++ {
		l.addRendered(b.Limit(zoom))
	}
	for _, c := range covers {
		for h, err := range file.In(ctx, c, false) {
			if err != nil {
				return l, err
			}
			mark := rendered // of a hole the server enlarges what lies above it
			if !h.Hole && !file.Vector() {
				mark = hex.EncodeToString(h.Hash[:markLength/2])
			}
			l.add(h.ID, mark)
		}
	}
	for zoom := file.Info.Zooms.Max + 1; zoom <= set.Deepest(); zoom++ {
		l.addRendered(b.Limit(zoom))
	}
	l.Bytes, err = file.ContentBytes(ctx)
	return l, errors.Join(err, ctx.Err())
}

func (l *keepList) addRendered(of tiles.Limit) {
	for y := of.MinRow; y <= of.MaxRow; y++ {
		for x := of.MinCol; x <= of.MaxCol; x++ {
			l.add(tiles.ID{Z: uint32(of.Zoom), X: x, Y: y}, rendered)
		}
	}
}

// add adds a tile, to the latest span where it lies beside it.
func (l *keepList) add(t tiles.ID, mark string) {
	l.Count++
	if n := len(l.Spans) - 1; n >= 0 {
		s := &l.Spans[n]
		if s.Zoom == int(t.Z) && s.Row == t.Y && s.First+uint32(len(s.Marks)/markLength) == t.X {
			s.Marks += mark
			return
		}
	}
	l.Spans = append(l.Spans, keepSpan{int(t.Z), t.Y, t.X, mark})
}
