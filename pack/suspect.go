package pack

import (
	"cmp"
	"iter"
	"slices"
	"strconv"

	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/words"
)

// No two images of different ground are equal to the byte. One that is found
// at this many places, two of them this many tiles apart or at two zooms, is no
// picture of any of them (common practice, no source).
const (
	RepeatPlaces = 3
	repeatApart  = 8
)

// Suspect is an image found at places far from one another: most likely
// "no imagery here", drawn by the source. Nobody but the operator can say so,
// so it is named and not taken out.
type Suspect struct {
	SHA256 string `json:"sha256"` // of the image as the source sent it
	Packed string `json:"packed"` // of the image as packed; "" in a plan
	Places int    `json:"places"` // where it is found, of all that the office store holds of the source
	Flat   bool   `json:"flat"`   // all of one color: open water, or nothing at all
	Tiles  int64  `json:"tiles"`  // of the plan
}

// Words say what it is and what to do.
func (s Suspect) Words() string {
	what := words.Say("plan.suspect_same")
	if s.Flat {
		what = words.Say("plan.suspect_flat")
	}
	return words.Say("plan.suspect", "n", s.Tiles, "what", what, "places", s.Places, "hash", strconv.Quote(s.SHA256))
}

// Distant reports whether places of one image are evidence against it: they
// are of several zooms, or far apart.
func Distant(places []tiles.ID) bool {
	if len(places) < 2 {
		return false
	}
	low, high := places[0], places[0]
	for _, t := range places[1:] {
		if t.Z != low.Z {
			return true
		}
		low.X, low.Y = min(low.X, t.X), min(low.Y, t.Y)
		high.X, high.Y = max(high.X, t.X), max(high.Y, t.Y)
	}
	return high.X-low.X >= repeatApart || high.Y-low.Y >= repeatApart
}

// Flat reports whether an image is all of one color, give or take the 2 of 255
// that JPEG may change.
func Flat(data []byte) bool {
	img, err := raster.Decode(data)
	if err != nil {
		return false // check names it
	}
	b := img.Bounds()
	r0, g0, b0, a0 := img.At(b.Min.X, b.Min.Y).RGBA()
	differs := func(v, w uint32) bool { return max(v>>8, w>>8)-min(v>>8, w>>8) > 2 }
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if r, g, b, a := img.At(x, y).RGBA(); differs(r, r0) || differs(g, g0) || differs(b, b0) || differs(a, a0) {
				return false
			}
		}
	}
	return true
}

// ListSuspects gives those that have tiles, the most frequent first.
func ListSuspects(found iter.Seq[*Suspect]) []Suspect {
	out := []Suspect{}
	for s := range found {
		if s.Tiles > 0 {
			out = append(out, *s)
		}
	}
	slices.SortFunc(out, func(a, b Suspect) int {
		return cmp.Or(cmp.Compare(b.Tiles, a.Tiles), cmp.Compare(a.SHA256, b.SHA256))
	})
	return out
}

// byHash gives the suspects with their counts reset, to count while packing.
func byHash(list []Suspect) map[string]*Suspect {
	out := map[string]*Suspect{}
	for _, s := range list {
		s.Packed, s.Tiles = "", 0
		out[s.SHA256] = &s
	}
	return out
}
