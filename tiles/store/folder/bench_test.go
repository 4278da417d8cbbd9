package folder

import (
	"context"
	"fmt"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// benchBytes is the length of the n-th image: 4 to 40 kB, spread evenly.
func benchBytes(n uint32) int { return 4000 + int(n*7919%36000) }

func BenchmarkKeep(b *testing.B) {
	st, err := Open(b.TempDir())
	if err != nil {
		b.Fatal(err)
	}
	defer st.Close()
	s, _ := st.shelf("bench")
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
			recs[i] = image(22, n, 0, 1, benchBytes(n))
			copy(recs[i].Data, fmt.Sprint(n))
			n++
		}
		b.StartTimer()
		if _, err := s.Keep(context.Background(), recs); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "tiles/s")
}

func BenchmarkIn(b *testing.B) {
	st, err := Open(b.TempDir())
	if err != nil {
		b.Fatal(err)
	}
	defer st.Close()
	s, _ := st.shelf("bench")
	const n = 5000
	var recs []store.Held
	for i := range uint32(n) {
		recs = append(recs, image(22, i, 0, uint64(i), benchBytes(i)))
	}
	if _, err := s.Keep(context.Background(), recs); err != nil {
		b.Fatal(err)
	}
	c := tiles.NewCover(22, []tiles.Span{{Row: 0, First: 0, Last: n}})
	for _, data := range []bool{false, true} {
		b.Run(fmt.Sprint("data=", data), func(b *testing.B) {
			for b.Loop() {
				for _, err := range s.In(context.Background(), c, data) {
					if err != nil {
						b.Fatal(err)
					}
				}
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "tiles/s")
		})
	}
}
