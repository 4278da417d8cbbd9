package collect_test

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
)

// BenchmarkManyMarks brings home ten thousand marks and 500 photos (aim: under ten
// seconds); it tells the size of the book.
func BenchmarkManyMarks(b *testing.B) {
	book := filepath.Join(b.TempDir(), "valve-12.fieldbook")
	var all []entry
	photos := map[string][]byte{}
	for i := range 10_000 {
		p := properties{"utility": []string{"water", "gas", "electric"}[i%3], "line": id(fmt.Sprint("run", i/50))}
		if i%20 == 0 {
			data, hash := picture(b, i+1, 800)
			photos[hash] = data
			p["photos"] = []any{map[string]any{"hash": hash, "type": "image/jpeg", "bytes": len(data)}}
		}
		all = append(all, reading(fmt.Sprint(i), float64(i)/100, float64(i%60)/3, p))
	}
	add(b, book, all...)
	for hash, data := range photos {
		addPhoto(b, book, data, hash)
	}
	info, err := os.Stat(book)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		b.StopTimer()
		dir := site(b)
		b.StartTimer()
		if r := run(b, dir, book); r.Marks != 10_000 || r.Books[0].Photos != len(photos) {
			b.Fatalf("%d marks, %+v", r.Marks, r.Books)
		}
	}
	b.ReportMetric(float64(info.Size())/1e6, "MB")
}
