package folder

import (
	"context"
	"fmt"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

func BenchmarkKeep(b *testing.B) {
	st, err := Open(b.TempDir())
	if err != nil {
		b.Fatal(err)
	}
	defer st.Close()
	s, _ := st.shelf("bench")
	recs := make([]store.Held, 256)
	var n uint32
	b.SetBytes(256 * 18000)
	for b.Loop() {
		b.StopTimer()
		for i := range recs {
			recs[i] = image(22, n, 0, 1, 18000)
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
		recs = append(recs, image(22, i, 0, uint64(i), 4000))
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
