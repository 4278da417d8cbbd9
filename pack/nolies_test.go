package pack

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// fiveInARow is a store of five tiles, 10/0/7 to 10/4/7.
func fiveInARow(t *testing.T) (held, tiles.Cover) {
	t.Helper()
	h, c := held{}, tiles.NewCover(10, []tiles.Span{{Row: 7, First: 0, Last: 4}})
	for id := range c.All() {
		h.put(id, flat(t, uint8(id.X), "png"), "png")
	}
	return h, c
}

// TestNoLies: a tile that is neither held nor a known hole stops the writing.
func TestNoLies(t *testing.T) {
	c := tiles.NewCover(10, []tiles.Span{{Row: 7, First: 0, Last: 4}})
	for _, lost := range []uint32{0, 2, 4} {
		h := held{}
		for id := range c.All() {
			if id.X != lost {
				h.put(id, flat(t, uint8(id.X), "png"), "png")
			}
		}
		dir := t.TempDir()
		_, err := Write(t.Context(), filepath.Join(dir, "p.mbtiles"), content(h, c), WriteOptions{})
		if err == nil || !strings.Contains(err.Error(), fmt.Sprintf("10/%d/7", lost)) {
			t.Errorf("tile %d lost: %v", lost, err)
		}
		if left, _ := os.ReadDir(dir); len(left) > 0 {
			t.Errorf("left behind: %v", left)
		}
	}
}

// TestNoLiesLater: a tile that goes between the first look and the writing.
func TestNoLiesLater(t *testing.T) {
	h, c := fiveInARow(t)
	pruned := content(h, c)
	pruned.Tiles = store.CoverFunc(func(ctx context.Context, c tiles.Cover, data bool) iter.Seq2[store.Held, error] {
		return func(yield func(store.Held, error) bool) {
			for r, err := range h.In(ctx, c, data) {
				if !(data && r.X == 3) && !yield(r, err) {
					return
				}
			}
		}
	})
	dir := t.TempDir()
	if _, err := Write(t.Context(), filepath.Join(dir, "p.mbtiles"), pruned, WriteOptions{}); err == nil || !strings.Contains(err.Error(), "10/3/7") {
		t.Errorf("%v", err)
	}
	if left, _ := os.ReadDir(dir); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// TestForbiddenToChange: images that their source forbids to change are packed
// as they are, or not at all.
func TestForbiddenToChange(t *testing.T) {
	h := held{}
	c := tiles.NewCover(10, []tiles.Span{{Row: 7, First: 0, Last: 1}})
	for id := range c.All() {
		h.put(id, flat(t, uint8(id.X), "jpg"), "jpg")
		r := h[id]
		r.Fixed = true
		h[id] = r
	}
	write(t, content(h, c))
	asked := content(h, c)
	asked.Quality = 50
	_, err := Write(t.Context(), filepath.Join(t.TempDir(), "p.mbtiles"), asked, WriteOptions{})
	if !errors.Is(err, source.Refused) || !strings.Contains(err.Error(), "no-transform") {
		t.Errorf("%v", err)
	}
}

// TestFailureKeepsTheOldPack: an error in the middle leaves what was there.
func TestFailureKeepsTheOldPack(t *testing.T) {
	h, c := fiveInARow(t)
	p, _ := write(t, content(h, c))
	before, err := os.ReadFile(p.Path)
	if err != nil {
		t.Fatal(err)
	}
	broken := content(h, c)
	broken.Tiles = store.CoverFunc(func(ctx context.Context, c tiles.Cover, data bool) iter.Seq2[store.Held, error] {
		return func(yield func(store.Held, error) bool) {
			for r, err := range h.In(ctx, c, data) {
				if data && r.X == 3 {
					err = errors.New("the disk fell off")
				}
				if !yield(r, err) || err != nil {
					return
				}
			}
		}
	})
	if _, err := Write(t.Context(), p.Path, broken, WriteOptions{Force: true}); err == nil || !strings.Contains(err.Error(), "fell off") {
		t.Fatalf("%v", err)
	}
	after, err := os.ReadFile(p.Path)
	if err != nil || !bytes.Equal(before, after) {
		t.Error("the old pack was touched")
	}
	if left, _ := os.ReadDir(filepath.Dir(p.Path)); len(left) != 1 {
		t.Errorf("left behind: %v", left)
	}
}
