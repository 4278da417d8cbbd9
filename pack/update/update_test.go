package update

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"errors"
	"image"
	"image/jpeg"
	"iter"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

var day = time.Date(2026, 11, 29, 12, 0, 0, 0, time.UTC)

// picture is the bytes of a tile that looks like no other.
func picture(t testing.TB, seed uint64) []byte {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 1))
	img := image.NewGray(image.Rect(0, 0, 256, 256))
	for y := 0; y < 256; y += 2 {
		for x := 0; x < 256; x += 2 {
			v := byte(rng.Uint32())
			for _, at := range []int{0, 1, img.Stride, img.Stride + 1} {
				img.Pix[y*img.Stride+x+at] = v
			}
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 40}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// shelf holds one picture a place.
type shelf map[tiles.ID][]byte

func (s shelf) In(_ context.Context, c tiles.Cover, data bool) iter.Seq2[store.Held, error] {
	return func(yield func(store.Held, error) bool) {
		for _, span := range c.Spans() {
			for x := span.First; x <= span.Last; x++ {
				id := tiles.ID{Z: uint32(c.Zoom()), X: x, Y: span.Row}
				h := store.Held{Tile: tiles.Tile{ID: id, Origin: tiles.Origin{Fetched: day}}, Hash: sha256.Sum256(s[id]), Bytes: len(s[id]), Media: "jpg"}
				if data {
					h.Data = s[id]
				}
				if !yield(h, nil) {
					return
				}
			}
		}
	}
}

const side, zoom, firstRow, firstCol = 20, 18, 98000, 28000

// square is so many tiles; packOf writes them as a pack.
func square(t testing.TB) shelf {
	s := shelf{}
	for y := range uint32(side) {
		for x := range uint32(side) {
			s[tiles.ID{Z: zoom, X: firstCol + x, Y: firstRow + y}] = picture(t, uint64(y*side+x))
		}
	}
	return s
}

func packOf(t testing.TB, path string, s shelf, name string, packed time.Time, sign ...ed25519.PrivateKey) {
	t.Helper()
	var spans []tiles.Span
	for y := range uint32(side) {
		spans = append(spans, tiles.Span{Row: firstRow + y, First: firstCol, Last: firstCol + side - 1})
	}
	cover := tiles.NewCover(zoom, spans)
	lon, lat := -141.5, 40.5
	c := pack.Content{About: pack.About{Name: name, Number: "24-117", Units: "us", Zooms: [2]int{zoom, zoom}, TileSize: 256, Source: pack.AboutSource{Name: "town"}},
		Bounds: tiles.Box{West: lon, South: lat, East: lon + 0.01, North: lat + 0.01}, Covers: []tiles.Cover{cover}, Tiles: s,
		Area: []byte(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"part":"area"},"geometry":{"type":"Polygon","coordinates":[[[-141.5,40.5],[-141.49,40.5],[-141.49,40.51],[-141.5,40.5]]]}}]}`)}
	if _, err := pack.Write(t.Context(), path, c, pack.WriteOptions{Now: func() time.Time { return packed }, Sign: slices.Concat(sign, []ed25519.PrivateKey{nil})[0]}); err != nil {
		t.Fatal(err)
	}
}

// pair is an older pack and a newer one, of which one tile in a hundred is another.
func pair(t testing.TB) (dir string, s shelf) {
	t.Helper()
	dir, s = t.TempDir(), square(t)
	packOf(t, filepath.Join(dir, "old.mbtiles"), s, "Valve 12", day)
	n := 0
	for _, id := range slices.SortedFunc(mapKeys(s), func(a, b tiles.ID) int { return int(a.Y*side+a.X) - int(b.Y*side+b.X) }) {
		if n++; n%100 == 7 {
			s[id] = picture(t, uint64(1e6+n))
		}
	}
	packOf(t, filepath.Join(dir, "new.mbtiles"), s, "Valve 12", day.Add(24*time.Hour))
	return dir, s
}

func mapKeys(s shelf) iter.Seq[tiles.ID] {
	return func(yield func(tiles.ID) bool) {
		for id := range s {
			if !yield(id) {
				return
			}
		}
	}
}

func read(t testing.TB, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func put(t testing.TB, path string, data []byte) {
	t.Helper()
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestPairs(t *testing.T) {
	dir, s := pair(t)
	t.Run("update", func(t *testing.T) { updated(t, dir, s) })
	t.Run("nothing changes", func(t *testing.T) { nothingChanges(t, dir, s) })
}

func updated(t *testing.T, dir string, s shelf) {
	at := func(name string) string { return filepath.Join(dir, name) }
	m, err := Write(t.Context(), at("old.mbtiles"), at("new.mbtiles"), at("valve.update"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	share := float64(m.Bytes) / float64(m.New.Bytes)
	t.Logf("%d of %d tiles changed: the update has %d bytes, %.2f %% of the pack's %d", m.What.Changed, len(s), m.Bytes, 100*share, m.New.Bytes)
	if m.What.Changed != 4 || m.What.Added+m.What.Gone != 0 || len(m.What.Parts) != 0 || share > 0.02 {
		t.Errorf("%+v", m)
	}
	put(t, at("site.mbtiles"), read(t, at("old.mbtiles")))
	done, err := Apply(t.Context(), at("site.mbtiles"), at("valve.update"))
	if err != nil || done.Already {
		t.Fatalf("%+v, %v", done, err)
	}
	if !bytes.Equal(read(t, at("site.mbtiles")), read(t, at("new.mbtiles"))) {
		t.Error("what came out is not the newer pack")
	}
	if done, err = Apply(t.Context(), at("site.mbtiles"), at("valve.update")); err != nil || !done.Already {
		t.Errorf("again: %+v, %v", done, err)
	}
	if left, _ := filepath.Glob(at(".*")); len(left) != 0 {
		t.Errorf("left: %v", left)
	}
}

// On a wrong or damaged pack, or with a damaged update, nothing changes.
func nothingChanges(t *testing.T, dir string, s shelf) {
	at := func(name string) string { return filepath.Join(dir, name) }
	if _, err := Write(t.Context(), at("old.mbtiles"), at("new.mbtiles"), at("good.update"), Options{}); err != nil {
		t.Fatal(err)
	}
	packOf(t, at("other.mbtiles"), s, "Main St", day)
	if _, err := Write(t.Context(), at("old.mbtiles"), at("other.mbtiles"), at("bad.update"), Options{}); !errors.Is(err, OtherPack) {
		t.Errorf("an update between jobs: %v", err)
	}
	if _, err := os.Stat(at("bad.update")); !errors.Is(err, os.ErrNotExist) {
		t.Error("there is an update between jobs")
	}
	old, good := read(t, at("old.mbtiles")), read(t, at("good.update"))
	rng := rand.New(rand.NewPCG(3, 5))
	for n := range 15 {
		damaged := bytes.Clone(good)
		switch {
		case n%3 == 0:
			damaged[rng.IntN(len(damaged))] ^= 1 << rng.IntN(8)
		case n%3 == 1:
			damaged = damaged[:rng.IntN(len(damaged))]
		default: // the sum fits, the pieces do not
			damaged[len(magic)+rng.IntN(len(damaged)-len(magic)-sha256.Size)] ^= 1 << rng.IntN(8)
			sum := sha256.Sum256(damaged[:len(damaged)-sha256.Size])
			copy(damaged[len(damaged)-sha256.Size:], sum[:])
		}
		put(t, at("damaged.update"), damaged)
		put(t, at("site.mbtiles"), old)
		if _, err := Apply(t.Context(), at("site.mbtiles"), at("damaged.update")); err == nil && !bytes.Equal(read(t, at("site.mbtiles")), read(t, at("new.mbtiles"))) {
			t.Errorf("%d: a damaged update was taken", n)
		} else if err != nil && !bytes.Equal(read(t, at("site.mbtiles")), old) {
			t.Errorf("%d: the pack changed: %v", n, err)
		}
	}
	wrong := bytes.Clone(old)
	wrong[len(wrong)/2] ^= 1
	for name, data := range map[string][]byte{"damaged": wrong, "other": read(t, at("other.mbtiles")), "short": old[:len(old)/2]} {
		put(t, at("site.mbtiles"), data)
		if _, err := Apply(t.Context(), at("site.mbtiles"), at("good.update")); !errors.Is(err, OtherPack) {
			t.Errorf("%s: %v", name, err)
		}
		if !bytes.Equal(read(t, at("site.mbtiles")), data) {
			t.Errorf("%s: the pack changed", name)
		}
	}
	stopped, stop := context.WithCancel(t.Context())
	stop()
	put(t, at("site.mbtiles"), old)
	if _, err := Apply(stopped, at("site.mbtiles"), at("good.update")); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if left, _ := filepath.Glob(at(".*")); len(left) != 0 || !bytes.Equal(read(t, at("site.mbtiles")), old) {
		t.Errorf("left: %v", left)
	}
}

// A signed pack is replaced by one of the same key alone.
func TestSignedStaysSigned(t *testing.T) {
	dir, s := t.TempDir(), shelf{}
	for y := range uint32(side) {
		for x := range uint32(side) {
			s[tiles.ID{Z: zoom, X: firstCol + x, Y: firstRow + y}] = picture(t, uint64(x%3))
		}
	}
	at := func(name string) string { return filepath.Join(dir, name) }
	office, other := ed25519.NewKeyFromSeed(make([]byte, 32)), ed25519.NewKeyFromSeed(bytes.Repeat([]byte{1}, 32))
	packOf(t, at("old.mbtiles"), s, "Valve 12", day, office)
	for name, keys := range map[string][]ed25519.PrivateKey{"same": {office}, "other": {other}, "none": nil} {
		packOf(t, at(name+".mbtiles"), s, "Valve 12", day.Add(time.Hour), keys...)
		if _, err := Write(t.Context(), at("old.mbtiles"), at(name+".mbtiles"), at(name+".update"), Options{}); err != nil {
			t.Fatal(err)
		}
		put(t, at("site.mbtiles"), read(t, at("old.mbtiles")))
		if _, err := Apply(t.Context(), at("site.mbtiles"), at(name+".update")); (err == nil) != (name == "same") {
			t.Errorf("%s: %v", name, err)
		} else if err != nil && !bytes.Equal(read(t, at("site.mbtiles")), read(t, at("old.mbtiles"))) {
			t.Errorf("%s: the pack changed", name)
		}
	}
}

// Whatever the two files are, what comes out is the newer one.
func TestAnyPieces(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	random := func(n int) []byte {
		b := make([]byte, n)
		for i := range b {
			b[i] = byte(rng.Uint32())
		}
		return b
	}
	for n := range 40 {
		old := random(rng.IntN(3 * held / 2))
		new := bytes.Clone(old)
		for range rng.IntN(8) {
			at := rng.IntN(len(new) + 1)
			switch rng.IntN(4) {
			case 0: // goes in
				new = slices.Insert(new, at, random(rng.IntN(5000))...)
			case 1: // goes out
				new = slices.Delete(new, at, min(len(new), at+rng.IntN(5000)))
			case 2: // another in its place
				copy(new[at:], random(rng.IntN(600)))
			default: // from elsewhere
				from := rng.IntN(len(old) + 1)
				new = slices.Insert(new, at, old[from:min(len(old), from+rng.IntN(20000))]...)
			}
		}
		if n%10 == 0 {
			new = random(rng.IntN(held * 3))
		}
		if len(new) == 0 {
			continue
		}
		var out, got bytes.Buffer
		a := &window{f: bytes.NewReader(old), size: int64(len(old))}
		b := &window{f: bytes.NewReader(new), size: int64(len(new))}
		if err := pieces(t.Context(), a, b, &out); err != nil {
			t.Fatal(err)
		}
		u := &Reader{Header: Header{Old: File{Bytes: int64(len(old))}, New: File{Bytes: int64(len(new))}}, pieces: &out}
		if err := u.write(t.Context(), bytes.NewReader(old), &got); err != nil || !bytes.Equal(got.Bytes(), new) {
			t.Fatalf("%d: %d bytes of %d: %v", n, got.Len(), len(new), err)
		}
	}
}

// FuzzPieces: whatever pieces say, nothing is read outside of the older pack and no more
// is written than the newer one has.
func FuzzPieces(f *testing.F) {
	f.Add([]byte("\x01a\x02\x00"), 10)
	f.Fuzz(func(t *testing.T, text []byte, size int) {
		var z, got bytes.Buffer
		old := []byte("the older pack")
		d := newDeflate(&z)
		if _, err := d.Write(text); err != nil {
			t.Fatal(err)
		}
		if err := d.Close(); err != nil {
			t.Fatal(err)
		}
		u := &Reader{Header: Header{Old: File{Bytes: int64(len(old))}, New: File{Bytes: int64(size%4096) + 1}}, pieces: &z}
		_ = u.write(t.Context(), bytes.NewReader(old), &got)
		if int64(got.Len()) > max(u.New.Bytes, 0) {
			t.Errorf("%d bytes of %d", got.Len(), u.New.Bytes)
		}
	})
}
