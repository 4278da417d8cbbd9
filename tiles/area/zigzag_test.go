package area

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"groundsheet/tiles"

	"groundsheet/tiles/fault"
)

// zigzag goes 55 m north and back again and again, n positions long, 4 m on each
// time.
func zigzag(n int) orb.LineString {
	line := make(orb.LineString, n)
	for i := range line {
		line[i] = orb.Point{-105 + float64(i)*0.00005, 40 + float64(i%2)*0.0005}
	}
	return line
}

// TestZigzagHoldsGround: each bend is too sharp for a band, and each leg lies
// over its neighbors.
func TestZigzagHoldsGround(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 2026))
	line, places := zigzag(300), 400
	if os.Getenv("GROUNDSHEET_WHOLE") != "" {
		places = 2000
	}
	for _, reach := range []float64{0.5, 3, 20} {
		outline := Area{Strips: []Strip{{line, reach}}}.Outline(0)
		if _, err := Polygons(one(outline)); err != nil {
			t.Fatal(err)
		}
		for range places {
			_, p := nearLine(r, line, 1.3*reach)
			d := groundDistance(line, tiles.Box{West: p[0], South: p[1], East: p[0], North: p[1]})
			inside := planar.MultiPolygonContains(outline, p)
			if d < reach && !inside || d > 1.02*reach && inside {
				t.Fatalf("reach %v m: a place %v m away is inside: %v", reach, d, inside)
			}
		}
	}
}

// BenchmarkZigzag tells how much longer eight times the positions take: 8 is even
// growth, 64 would be the square.
func BenchmarkZigzag(b *testing.B) {
	outline := func(n int) time.Duration {
		a, began := Area{Strips: []Strip{{zigzag(n), 9}}}, time.Now()
		if len(a.Outline(0)) != 1 {
			b.Fatal("not one outline")
		}
		return time.Since(began)
	}
	var few, many time.Duration
	for b.Loop() {
		few, many = few+outline(500), many+outline(4000)
	}
	b.ReportMetric(float64(many)/float64(few), "times")
}

// TestRouteOfTooManyBends is refused at once, with what to do; a long gentle
// route is not, nor one whose bends its width smooths.
func TestRouteOfTooManyBends(t *testing.T) {
	_, err := Route(one(zigzag(MaxPositions)), 18)
	var f *fault.Fault
	if !errors.As(err, &f) || f.Kind != RuleTooMany || f.Detail != fmt.Sprintf("more than %d bends that its width does not smooth", MaxPieces) {
		t.Errorf("%v", err)
	}
	bow, track := make(orb.LineString, MaxPositions), make(orb.LineString, MaxPositions)
	for i := range bow {
		sin, cos := math.Sincos(float64(i) / MaxPositions)
		bow[i] = orb.Point{-105 + 0.5*cos, 40 + 0.5*sin}
		track[i] = orb.Point{-105 + float64(i)*1e-5, 40 + float64(i%2)*1e-8} // a millimeter of noise
	}
	for name, line := range map[string]orb.LineString{"bow": bow, "track": track} {
		if _, err := Route(one(line), 18); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// BenchmarkOutlineZigzag tells the time a position: it grows with the logarithm
// of their number.
func BenchmarkOutlineZigzag(b *testing.B) {
	for _, n := range []int{2_000, 20_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			a := Area{Strips: []Strip{{zigzag(n), 9}}}
			for b.Loop() {
				if len(a.Outline(0)) != 1 {
					b.Fatal("not one outline")
				}
			}
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)/float64(n), "µs/position")
		})
	}
}
