package fieldbook

import (
	"fmt"
	"path/filepath"
	"testing"

	"groundsheet/tiles/raster"
)

// full is a book of n marks and photos.
func full(tb testing.TB, marks, photos int) *Book {
	tb.Helper()
	b := opened(tb, filepath.Join(tb.TempDir(), "a.fieldbook"), Options{})
	for at := 0; at < marks; at += 200 {
		var some []entry
		for i := at; i < min(at+200, marks); i++ {
			some = append(some, reading(fmt.Sprint(i)))
		}
		appended(tb, b, some...)
	}
	data, _ := pictured(tb, raster.JPG)
	for i := range photos {
		photo := append(append(append([]byte{}, data[:2]...), 0xff, 0xfe, 0, 10), fmt.Sprintf("%08d", i)...)
		photo = append(photo, data[2:]...)
		for at := 0; at < len(photo); at += MaxPiece {
			piece := Piece{hashOf(photo), "image/jpeg", int64(len(photo)), int64(at), photo[at:min(at+MaxPiece, len(photo))]}
			if _, err := b.AddPiece(tb.Context(), piece); err != nil {
				tb.Fatal(err)
			}
		}
	}
	return b
}

// BenchmarkAppend appends one entry at a time, beside a bare insert of the same bytes that
// is synced as well: what the book costs over the disk.
func BenchmarkAppend(b *testing.B) {
	text := reading("one").text(b)
	b.Run("book", func(b *testing.B) {
		book := opened(b, filepath.Join(b.TempDir(), "a.fieldbook"), Options{})
		for n := 0; b.Loop(); n++ {
			appended(b, book, reading(fmt.Sprint(n)))
		}
	})
	b.Run("insert", func(b *testing.B) {
		db := connect(filepath.Join(b.TempDir(), "a.db"), "rwc")
		defer db.Close()
		if _, err := db.Exec(`CREATE TABLE entry(number INTEGER PRIMARY KEY, text TEXT)`); err != nil {
			b.Fatal(err)
		}
		for b.Loop() {
			if _, err := db.Exec(`INSERT INTO entry(text) VALUES(?)`, string(text)); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// BenchmarkLargeBook reads a book of ten thousand marks and 500 photos.
func BenchmarkLargeBook(b *testing.B) {
	const marks, photos = 10_000, 500
	book := full(b, marks, photos)
	b.Run("page", func(b *testing.B) {
		for b.Loop() {
			if all, err := book.Entries(b.Context(), 5000, 1000); err != nil || len(all) != 1000 {
				b.Fatal(len(all), err)
			}
		}
	})
	b.Run("marks", func(b *testing.B) {
		for b.Loop() {
			if all, err := book.Marks(b.Context()); err != nil || len(all) != marks {
				b.Fatal(len(all), err)
			}
		}
	})
	b.Run("verify", func(b *testing.B) {
		for b.Loop() {
			if v, err := book.Verify(b.Context()); err != nil || !v.Whole() || v.Photos != photos {
				b.Fatal(v, err)
			}
		}
	})
	b.Run("count", func(b *testing.B) {
		for b.Loop() {
			if n, _, err := book.Count(b.Context()); err != nil || n != marks {
				b.Fatal(n, err)
			}
		}
	})
}
