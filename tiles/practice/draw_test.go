package practice

import (
	"bytes"
	"fmt"
	"image"
	"math"
	"sync"
	"testing"

	"groundsheet/tiles"
)

type place struct {
	name     string
	lon, lat float64
}

// places are in a town, in the country, at the edges of the world, and far
// south.
var places = []place{
	{"town", -105.0456, 40.0123},
	{"country", -104.9302, 40.0123},
	{"antimeridian west", -179.9999, 12},
	{"antimeridian east", 179.9999, -12},
	{"north edge", 20, 85.05},
	{"south edge", -70, -85.05},
	{"middle of the world", 0.0001, 0.0001},
	{"south", 174.7, -36.8},
}

// some gives three of the places, others at every zoom: drawing all of them at
// all zooms takes minutes under the race detector.
func some(zoom int) []place {
	n := len(places)
	return []place{places[zoom%n], places[(zoom+3)%n], places[(zoom+6)%n]}
}

func TestDrawIsTheSameEveryTime(t *testing.T) {
	for _, zoom := range []int{0, 5, 11, 13, 16, 19, 21, 24} {
		for _, p := range some(zoom) {
			id := tiles.At(p.lon, p.lat, zoom)
			t.Run(fmt.Sprintf("%s %v", p.name, id), func(t *testing.T) {
				t.Parallel()
				first := Draw(id)
				if first.Rect != image.Rect(0, 0, 256, 256) || !first.Opaque() {
					t.Fatalf("%v, opaque %v", first.Rect, first.Opaque())
				}
				var wait sync.WaitGroup
				for range 2 {
					wait.Go(func() {
						if !bytes.Equal(Draw(id).Pix, first.Pix) {
							t.Error("drawn differently a second time")
						}
					})
				}
				wait.Wait()
			})
		}
	}
}

func TestTilesSayThatTheyArePractice(t *testing.T) {
	a, b := tiles.ID{Z: 18, X: 54580, Y: 99230}, tiles.ID{Z: 18, X: 54581, Y: 99230}
	for _, id := range []tiles.ID{a, b} {
		bare, drawn := paint(id), Draw(id)
		changed := image.Rectangle{}
		for i := range side * side {
			if !bytes.Equal(bare.Pix[i*4:i*4+4], drawn.Pix[i*4:i*4+4]) {
				changed = changed.Union(image.Rect(i%side, i/side, i%side+1, i/side+1))
			}
		}
		if changed.Dx() < 7*len("18/54580/99230 practice") || !changed.In(image.Rect(0, 0, 200, 24)) {
			t.Errorf("%v: the label changed %v", id, changed)
		}
	}
}

// TestColorsAreMuted finds black, white and not-a-number, which would
// come out as 0 or 255.
func TestColorsAreMuted(t *testing.T) {
	for zoom := range tiles.MaxZoom + 1 {
		for _, p := range some(zoom) {
			m := paint(tiles.At(p.lon, p.lat, zoom))
			for i, v := range m.Pix {
				if i%4 < 3 && (v < 8 || v > 245) {
					t.Fatalf("%s zoom %d: pixel %d channel %d is %d", p.name, zoom, i/4, i%4, v)
				}
			}
		}
	}
}

// step is the mean difference between two columns of pixels, or two rows.
func step(a *image.RGBA, i int, b *image.RGBA, j int, rows bool) float64 {
	sum := 0.0
	for k := range side {
		p, q := a.RGBAAt(i, k), b.RGBAAt(j, k)
		if rows {
			p, q = a.RGBAAt(k, i), b.RGBAAt(k, j)
		}
		sum += math.Abs(float64(p.G) - float64(q.G))
	}
	return sum / side
}

func TestTilesJoinWithoutASeam(t *testing.T) {
	for zoom := 3; zoom <= tiles.MaxZoom; zoom++ {
		t.Run(fmt.Sprintf("zoom %d", zoom), func(t *testing.T) {
			t.Parallel()
			seam, within := 0.0, 0.0
			for _, p := range some(zoom) {
				id := tiles.At(p.lon, p.lat, zoom)
				last := uint32(1)<<zoom - 1
				id.Y = min(id.Y, last-1)
				// East of the last column the world begins again.
				east := tiles.ID{Z: id.Z, X: (id.X + 1) & last, Y: id.Y}
				south := tiles.ID{Z: id.Z, X: id.X, Y: id.Y + 1}
				m := paint(id)
				seam += step(m, 255, paint(east), 0, false) + step(m, 255, paint(south), 0, true)
				for i := range side - 1 {
					within += (step(m, i, m, i+1, false) + step(m, i, m, i+1, true)) / (side - 1)
				}
			}
			n := float64(2 * len(some(zoom)))
			if t.Logf("%.2f across seams, %.2f within tiles", seam/n, within/n); seam > 1.4*within {
				t.Errorf("%.2f across seams, %.2f within tiles", seam/n, within/n)
			}
		})
	}
}

// shrunk is the four children put together and halved in size.
func shrunk(id tiles.ID) *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, side, side))
	for n, child := range id.Children() {
		m := paint(child)
		for y := range side / 2 {
			for x := range side / 2 {
				o := out.PixOffset(x+n%2*side/2, y+n/2*side/2)
				for ch := range 4 {
					i := m.PixOffset(2*x, 2*y) + ch
					sum := int(m.Pix[i]) + int(m.Pix[i+4]) + int(m.Pix[i+m.Stride]) + int(m.Pix[i+m.Stride+4])
					out.Pix[o+ch] = uint8((sum + 2) / 4)
				}
			}
		}
	}
	return out
}

// compare gives the difference of the mean colors, in steps of 255, and how
// alike two pictures are pixel by pixel (1 is the same, 0 is unrelated).
func compare(a, b *image.RGBA) (mean [3]float64, alike float64) {
	const n = side * side
	var ma, mb [3]float64
	for i := range n {
		for ch := range 3 {
			ma[ch] += float64(a.Pix[i*4+ch]) / n
			mb[ch] += float64(b.Pix[i*4+ch]) / n
		}
	}
	var aa, bb, ab float64
	for i := range n {
		x, y := float64(a.Pix[i*4+1])-ma[1], float64(b.Pix[i*4+1])-mb[1]
		aa, bb, ab = aa+x*x, bb+y*y, ab+x*y
	}
	for ch := range mean {
		mean[ch] = ma[ch] - mb[ch]
	}
	return mean, ab / math.Sqrt(aa*bb+1e-9)
}

func TestParentsLookLikeShrunkChildren(t *testing.T) {
	for zoom := range tiles.MaxZoom {
		t.Run(fmt.Sprintf("zoom %d", zoom), func(t *testing.T) {
			t.Parallel()
			least := 0.5 // mean colors give way to streets, then to houses
			if zoom >= housesFrom {
				least = 0.8
			}
			for _, p := range some(zoom) {
				id := tiles.At(p.lon, p.lat, zoom)
				mean, alike := compare(paint(id), shrunk(id))
				for _, d := range mean {
					if math.Abs(d) > 5 {
						t.Errorf("%s %v: the mean colour differs by %.1f", p.name, id, mean)
						break
					}
				}
				if alike < least {
					t.Errorf("%s %v: only %.2f alike", p.name, id, alike)
				}
			}
		})
	}
}

func BenchmarkTile(b *testing.B) {
	for _, p := range places[:2] {
		for _, zoom := range []int{6, 12, 14, 15, 17, 19, 21} {
			b.Run(fmt.Sprintf("%s/z%d", p.name, zoom), func(b *testing.B) {
				id := tiles.At(p.lon, p.lat, zoom)
				bytes, k := 0, uint32(0)
				for b.Loop() {
					k++
					bytes += len(encode(tiles.ID{Z: id.Z, X: id.X + k%5, Y: id.Y + k/5%5}))
				}
				b.ReportMetric(float64(bytes)/float64(b.N)/1000, "kB/tile")
			})
		}
	}
}
