package fetch_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
)

// ink is the color of a tile, so that a tile cut from the wrong place is seen.
func ink(x, y uint32) color.RGBA { return color.RGBA{uint8(x * 29), uint8(y * 53), 90, 255} }

// blockPicture draws the n×n tiles from a corner on.
func blockPicture(x, y uint32, n int, asJPEG bool) []byte {
	img := image.NewRGBA(image.Rect(0, 0, n*256, n*256))
	for row := range n {
		for column := range n {
			draw.Draw(img, image.Rect(0, 0, 256, 256).Add(image.Pt(column*256, row*256)), image.NewUniform(ink(x+uint32(column), y+uint32(row))), image.Point{}, draw.Src)
		}
	}
	var buf bytes.Buffer
	if asJPEG {
		jpeg.Encode(&buf, img, &jpeg.Options{Quality: 95})
	} else {
		(&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&buf, img)
	}
	return buf.Bytes()
}

// blocks is a source on a host that sends pictures of up to 4×4 tiles.
func (h *host) blocks() source.Source {
	src := h.fast()
	src.Kind, src.Metatile = source.KindWMS, 4
	src.Templates = []string{h.URL + "/{z}/{x}/{y}?pixels={pixels}"}
	src.Terms.KeepAtLeast = 0
	return src
}

// sendsBlocks answers with the picture that was asked for.
func sendsBlocks(asJPEG bool, also func(w http.ResponseWriter, r *http.Request) bool) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if also != nil && also(w, r) {
			return
		}
		var z, x, y uint32
		var pixels int
		fmt.Sscanf(r.URL.Path, "/%d/%d/%d", &z, &x, &y)
		fmt.Sscanf(r.URL.Query().Get("pixels"), "%d", &pixels)
		w.Write(blockPicture(x, y, pixels/256, asJPEG))
	}
}

// field are the wants of a rectangle of zoom 12, in tile order.
func field(x0, y0, x1, y1 uint32) (out []fetch.Want) {
	for y := y0; y <= y1; y++ {
		for x := x0; x <= x1; x++ {
			out = append(out, fetch.Want{ID: tiles.ID{Z: 12, X: x, Y: y}})
		}
	}
	return out
}

// Four by three tiles that lie across four blocks are four requests; every tile
// is the right part of its picture, and only wanted ones are kept.
func TestBlocksAreCut(t *testing.T) {
	for _, asJPEG := range []bool{false, true} {
		t.Run(fmt.Sprint("jpeg=", asJPEG), func(t *testing.T) {
			h := serve(t, sendsBlocks(asJPEG, func(w http.ResponseWriter, r *http.Request) bool {
				w.Header().Set("ETag", `"`+r.URL.Path+`"`)
				return false
			}))
			s := shelf(t)
			wants := field(9, 7, 12, 9)
			tally, err := run(h.blocks(), s, wants, quick())
			if err != nil || tally.New != 12 || tally.Wanted != 12 || tally.Requests != 4 {
				t.Fatalf("%+v, %v", tally, err)
			}
			for _, w := range wants {
				rec, ok, err := s.Get(t.Context(), w.ID)
				if err != nil || !ok {
					t.Fatalf("%s: %v, %v", w.ID, ok, err)
				}
				if _, err := raster.Prove(rec.Data, 256); err != nil {
					t.Fatalf("%s: %v", w.ID, err)
				}
				img, _, err := image.Decode(bytes.NewReader(rec.Data))
				if err != nil {
					t.Fatal(err)
				}
				for _, at := range []image.Point{{0, 0}, {255, 0}, {0, 255}, {255, 255}, {128, 128}} {
					if !near(img.At(img.Bounds().Min.X+at.X, img.Bounds().Min.Y+at.Y), ink(w.X, w.Y), asJPEG) {
						t.Errorf("%s at %v: %v, want %v", w.ID, at, img.At(at.X, at.Y), ink(w.X, w.Y))
					}
				}
				if want := fmt.Sprintf(`"/12/%d/%d"`, w.X/4*4, w.Y/4*4); rec.ETag != want {
					t.Errorf("%s: tag %s, want that of its block, %s", w.ID, rec.ETag, want)
				}
			}
		})
	}
}

func near(a, b color.Color, loosely bool) bool {
	x, y := color.RGBAModel.Convert(a).(color.RGBA), color.RGBAModel.Convert(b).(color.RGBA)
	if !loosely {
		return x == y
	}
	d := func(p, q uint8) int { return max(int(p), int(q)) - min(int(p), int(q)) }
	return max(d(x.R, y.R), d(x.G, y.G), d(x.B, y.B)) < 12
}

// A block is confirmed as a whole: by one request, when all its tiles are held
// in one version.
func TestBlocksAreConfirmed(t *testing.T) {
	h := serve(t, sendsBlocks(false, func(w http.ResponseWriter, r *http.Request) bool {
		w.Header().Set("ETag", `"v1"`)
		if r.Header.Get("If-None-Match") == `"v1"` {
			w.WriteHeader(304)
			return true
		}
		return false
	}))
	s := shelf(t)
	wants := field(0, 0, 7, 3)
	if _, err := run(h.blocks(), s, wants, quick()); err != nil {
		t.Fatal(err)
	}
	for i := range wants {
		wants[i].Held, _, _ = s.Get(t.Context(), wants[i].ID)
	}
	wants[5].Held.ETag = `"v0"` // one tile of the second block
	tally, err := run(h.blocks(), s, wants, quick())
	if err != nil || tally.Requests != 2 || tally.Unchanged != 16 || tally.Same != 16 {
		t.Errorf("%+v, %v: want one block confirmed and one sent again", tally, err)
	}
}

func TestBlocksThatCannotBeCut(t *testing.T) {
	t.Run("no-transform", func(t *testing.T) {
		h := serve(t, sendsBlocks(false, func(w http.ResponseWriter, r *http.Request) bool {
			w.Header().Set("Cache-Control", "no-transform")
			return false
		}))
		s := shelf(t)
		_, err := run(h.blocks(), s, field(0, 0, 3, 3), quick())
		stoppedFor(t, err, fetch.StopNoTransform, "no-transform", "metatile = 1")
	})
	t.Run("wrong size", func(t *testing.T) {
		h := serve(t, sends(plain))
		o := quick()
		o.Attempts = 1
		tally, err := run(h.blocks(), shelf(t), field(0, 0, 3, 3), o)
		says(t, err, "1024×1024 expected, 256×256 came")
		if tally.Failed != 16 {
			t.Errorf("%+v", tally)
		}
	})
	t.Run("absent", func(t *testing.T) {
		h := serve(t, http.NotFound)
		if tally, err := run(h.blocks(), shelf(t), field(0, 0, 3, 3), quick()); err != nil || tally.Absent != 16 || tally.Requests != 1 {
			t.Errorf("%+v, %v", tally, err)
		}
	})
	t.Run("the world is one tile", func(t *testing.T) {
		h := serve(t, sends(plain))
		if tally, err := run(h.blocks(), shelf(t), []fetch.Want{{}}, quick()); err != nil || tally.New != 1 {
			t.Errorf("%+v, %v", tally, err)
		}
	})
}

// The budget counts tiles, not requests: a picture costs what it brings.
func TestBlocksCountTheirTiles(t *testing.T) {
	h := serve(t, sendsBlocks(false, nil))
	src := h.blocks()
	src.Terms.TilesPerDay = 20
	tally, err := run(src, shelf(t), field(0, 0, 7, 3), quick())
	stoppedFor(t, err, fetch.StopBudget, "20 tiles a day")
	if tally.New != 16 {
		t.Errorf("%+v", tally)
	}
}

// What the service itself says it does not have is a hole without a request;
// an image held there stays.
func TestOutsideOfTheService(t *testing.T) {
	h := serve(t, sends(plain))
	src := h.fast()
	src.Limits = []tiles.Limit{{Zoom: 20, MinCol: 3, MaxCol: 5}}
	s := shelf(t)
	tally, err := run(src, s, row(10), quick())
	if err != nil || tally.New != 3 || tally.Absent != 7 || h.requests() != 3 {
		t.Fatalf("%+v, %v, %d requests", tally, err, h.requests())
	}
	src.Limits[0].MinCol = 4
	tally, err = run(src, s, []fetch.Want{{ID: held(t, s)[3].ID, Held: held(t, s)[3]}}, quick())
	if err != nil || tally.Withdrawn != 1 || held(t, s)[3].Hole {
		t.Errorf("%+v, %v", tally, err)
	}
}

// An image that the operator named as "no imagery here" is a hole, cut from a
// picture or not.
func TestPlaceholders(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		if strings.HasPrefix(r.URL.Path, "/20/1/") {
			w.Write(picture(256, 5, false))
			return
		}
		w.Write(plain)
	})
	s := shelf(t)
	first, err := run(h.fast(), s, row(1), quick())
	if err != nil || first.New != 1 {
		t.Fatalf("%+v, %v", first, err)
	}
	src := h.fast()
	src.Placeholders = [][32]byte{held(t, s)[0].Hash}
	s = shelf(t)
	tally, err := run(src, s, row(3), quick())
	if err != nil || tally.New != 1 || tally.Absent != 2 || !held(t, s)[0].Hole || held(t, s)[1].Hole {
		t.Errorf("%+v, %v", tally, err)
	}
}

// The same picture wanted twice at once, because the wants are in no order, is
// asked for once.
func TestTheSamePictureIsAskedForOnce(t *testing.T) {
	var mu sync.Mutex
	asked := map[string]int{}
	h := serve(t, sendsBlocks(false, func(w http.ResponseWriter, r *http.Request) bool {
		mu.Lock()
		asked[r.URL.Path]++
		mu.Unlock()
		return false
	}))
	src := h.blocks()
	wants := slices.Concat(field(0, 0, 0, 0), field(0, 4, 0, 4), field(1, 0, 1, 0), field(1, 4, 1, 4))
	tally, err := run(src, shelf(t), wants, quick())
	if err != nil || tally.New != 4 || len(asked) != 2 || tally.Requests > 4 {
		t.Errorf("%+v, %v, %v", tally, err, asked)
	}
}
