//go:build outside

package postgres

import (
	"fmt"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
)

// stores are the two beside each other: compare them within one run.
func stores(b *testing.B) map[string]store.Shelf {
	b.Helper()
	d, err := folder.Open(b.TempDir())
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { d.Close() })
	folder, err := d.Shelf("town")
	if err != nil {
		b.Fatal(err)
	}
	return map[string]store.Shelf{"disk": folder, "postgres": town(b, openAt(b, address(b), Options{}))}
}

// benchBytes is the length of the n-th image: 4 to 40 kB, spread evenly.
func benchBytes(n uint32) int { return 4000 + int(n*7919%36000) }

func BenchmarkKeep(b *testing.B) {
	for name, s := range stores(b) {
		b.Run(name, func(b *testing.B) {
			recs := make([]store.Held, 256)
			var n uint32
			size := 0
			for n := range uint32(256) {
				size += benchBytes(n)
			}
			b.SetBytes(int64(size)) // of the first batch; the others are as long within a few per cent
			for b.Loop() {
				b.StopTimer()
				for i := range recs {
					recs[i] = image(22, n, uint64(n), benchBytes(n))
					n++
				}
				b.StartTimer()
				if _, err := s.Keep(b.Context(), recs); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "tiles/s")
		})
	}
}

func BenchmarkIn(b *testing.B) {
	const n = 5000
	for name, s := range stores(b) {
		var recs []store.Held
		for i := range uint32(n) {
			recs = append(recs, image(22, i, uint64(i), benchBytes(i)))
		}
		keep(b, s, recs...)
		c := tiles.NewCover(22, []tiles.Span{{Row: 0, First: 0, Last: n}})
		for _, data := range []bool{false, true} {
			b.Run(fmt.Sprint(name, "/data=", data), func(b *testing.B) {
				for b.Loop() {
					for _, err := range s.In(b.Context(), c, data) {
						if err != nil {
							b.Fatal(err)
						}
					}
				}
				b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "tiles/s")
			})
		}
	}
}
