package area

import (
	"fmt"
	"os"
	"testing"
	"time"
	"github.com/paulmach/orb"
)

func zig(n int, step, high float64) Area {
	line := orb.LineString{}
	for i := range n {
		line = append(line, orb.Point{-105 + float64(i)*step, 40 + float64(i%2)*high})
	}
	return Area{Strips: []Strip{{line, 9}}}
}

func TestZigTime(t *testing.T) {
	if os.Getenv("ZIG") == "" { t.Skip() }
	for _, s := range []struct{ step, high float64 }{{0.0001, 0.0005}} {
		for _, n := range []int{5000} {
			for _, m := range []float64{0, 15} {
				b := time.Now()
				o := zig(n, s.step, s.high).Outline(m)
				fmt.Println(s, n, m, time.Since(b).Round(time.Millisecond), len(o))
			}
		}
	}
}
