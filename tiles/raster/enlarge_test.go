package raster

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"testing"
)

// soft is a JPEG-like picture of smooth hills and some edges.
func soft(side int, ratio image.YCbCrSubsampleRatio) *image.YCbCr {
	m := image.NewYCbCr(image.Rect(0, 0, side, side), ratio)
	for y := range side {
		for x := range side {
			v := 128 + 70*math.Sin(float64(x)/9)*math.Cos(float64(y)/13)
			if x > side/3 && y > side/2 {
				v = 40
			}
			m.Y[m.YOffset(x, y)] = uint8(v)
			m.Cb[m.COffset(x, y)], m.Cr[m.COffset(x, y)] = uint8(100+x*40/side), uint8(150-y*30/side)
		}
	}
	return m
}

func ratios() []image.YCbCrSubsampleRatio {
	return []image.YCbCrSubsampleRatio{image.YCbCrSubsampleRatio444, image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420}
}

// apart is the mean and the largest difference of two images' colors.
func apart(a, b image.Image) (mean float64, most int) {
	r := a.Bounds()
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			p, q := color.RGBAModel.Convert(a.At(x, y)).(color.RGBA), color.RGBAModel.Convert(b.At(x, y)).(color.RGBA)
			for _, d := range [3]int{int(p.R) - int(q.R), int(p.G) - int(q.G), int(p.B) - int(q.B)} {
				d = max(d, -d)
				mean, most = mean+float64(d), max(most, d)
			}
		}
	}
	return mean / float64(3*r.Dx()*r.Dy()), most
}

// TestEnlargeIsChild: enlarging the planes gives what the library's CatmullRom
// filter gives of the colors, away from the parent's edge, where both must
// guess, and from hard edges of the chroma.
func TestEnlargeIsChild(t *testing.T) {
	for _, ratio := range ratios() {
		for _, side := range []int{256, 512} {
			parent := soft(side, ratio)
			for _, c := range []struct{ down, x, y uint32 }{{1, 0, 0}, {1, 1, 1}, {2, 1, 2}, {4, 7, 9}, {8, 100, 100}} {
				got, want := Enlarge(parent, c.down, c.x, c.y, side), Child(parent, c.down, c.x, c.y, side)
				if _, ok := got.(*image.YCbCr); !ok || got.Bounds() != want.Bounds() {
					t.Fatalf("%T of %v", got, got.Bounds())
				}
				if mean, most := apart(got, want); mean > 1.2 || most > 24 {
					t.Errorf("%v, %d pixels, %v: %.2f apart on average, %d at most", ratio, side, c, mean, most)
				}
			}
		}
	}
}

// TestEnlargeJoins: neighbouring children go on in one another as two pixels
// within a child do.
func TestEnlargeJoins(t *testing.T) {
	parent := soft(256, image.YCbCrSubsampleRatio420)
	for down := uint32(1); down <= 6; down++ {
		half := uint32(1) << (down - 1)
		west, east := Enlarge(parent, down, half-1, 0, 256).(*image.YCbCr), Enlarge(parent, down, half, 0, 256).(*image.YCbCr)
		for y := range 256 {
			a, b, c := int(west.Y[y*west.YStride+255]), int(east.Y[y*east.YStride]), int(east.Y[y*east.YStride+1])
			if d, usual := a-b, c-b; max(d, -d) > max(usual, -usual)+3 {
				t.Fatalf("%d zooms down, row %d: %d %d %d", down, y, a, b, c)
			}
		}
	}
}

// TestEvenGroundStaysEven: no weight is lost.
func TestEvenGroundStaysEven(t *testing.T) {
	for _, v := range []uint8{0, 1, 127, 254, 255} {
		m := image.NewYCbCr(image.Rect(0, 0, 256, 256), image.YCbCrSubsampleRatio420)
		for _, p := range [][]uint8{m.Y, m.Cb, m.Cr} {
			for i := range p {
				p[i] = v
			}
		}
		for _, c := range []struct{ down, x, y uint32 }{{1, 0, 1}, {3, 7, 7}, {8, 255, 0}} {
			out := Enlarge(m, c.down, c.x, c.y, 256).(*image.YCbCr)
			for _, p := range [][]uint8{out.Y, out.Cb, out.Cr} {
				for _, got := range p {
					if got != v {
						t.Fatalf("%d became %d", v, got)
					}
				}
			}
		}
	}
}

// TestEnlargeOfOthers: what has no even planes, or is less than a pixel, goes the
// way of all images.
func TestEnlargeOfOthers(t *testing.T) {
	for name, c := range map[string]struct {
		parent image.Image
		down   uint32
	}{
		"png": {slope(256), 1}, "odd": {soft(255, image.YCbCrSubsampleRatio420), 1},
		"no zooms": {soft(256, image.YCbCrSubsampleRatio420), 0}, "within a pixel": {soft(256, image.YCbCrSubsampleRatio420), 9},
		"absurdly deep": {soft(256, image.YCbCrSubsampleRatio420), math.MaxUint32},
		"4:1:0":         {image.NewYCbCr(image.Rect(0, 0, 256, 256), image.YCbCrSubsampleRatio410), 1},
	} {
		t.Run(name, func(t *testing.T) {
			if got, ok := Enlarge(c.parent, c.down, 0, 0, 256).(*image.RGBA); !ok || !bytes.Equal(got.Pix, Child(c.parent, c.down, 0, 0, 256).Pix) {
				t.Errorf("%T", got)
			}
		})
	}
}

// TestShrunkIsTheMean: each pixel is the mean of those under it, in its place.
func TestShrunkIsTheMean(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for down := uint32(1); down <= 8; down++ {
		n := uint32(1) << down
		s := NewShrunk(256)
		x, y := r.Uint32N(n), r.Uint32N(n)
		tile := image.NewRGBA(image.Rect(5, -3, 5+256, -3+256))
		for i := range tile.Pix {
			tile.Pix[i] = uint8(r.UintN(256))
			if i%4 == 3 {
				tile.Pix[i] = 255
			}
		}
		s.Put(tile, down, x, y)
		got, whole := s.Image()
		if whole {
			t.Errorf("%d zooms: one of %d tiles is the whole", down, n*n)
		}
		part, block := 256>>down, 1<<down
		for _, at := range []image.Point{{}, {part - 1, part / 2}} {
			var sum [3]int
			for j := range block {
				for i := range block {
					p := tile.RGBAAt(5+at.X*block+i, -3+at.Y*block+j)
					sum[0], sum[1], sum[2] = sum[0]+int(p.R), sum[1]+int(p.G), sum[2]+int(p.B)
				}
			}
			p := got.(*image.RGBA).RGBAAt(int(x)*part+at.X, int(y)*part+at.Y)
			for k, v := range []uint8{p.R, p.G, p.B} {
				if math.Abs(float64(v)-float64(sum[k])/float64(block*block)) > 0.51 {
					t.Errorf("%d zooms, %v: channel %d is %d, want %.2f", down, at, k, v, float64(sum[k])/float64(block*block))
				}
			}
		}
		if left := got.(*image.RGBA).RGBAAt(int(x+n/2)%int(n)*part, int(y)*part); left != (color.RGBA{}) {
			t.Errorf("%d zooms: ground without a tile is %v", down, left)
		}
	}
}

// TestShrunkWhole: four quarters of every kind of image make a whole.
func TestShrunkWhole(t *testing.T) {
	big := soft(512, image.YCbCrSubsampleRatio444)
	grey, all := image.NewGray(big.Rect), NewShrunk(0)
	draw.Draw(grey, grey.Rect, big, image.Point{}, draw.Src)
	for i, tile := range []image.Image{soft(256, image.YCbCrSubsampleRatio420), grey, soft(100, image.YCbCrSubsampleRatio422), big} {
		if _, whole := all.Image(); whole {
			t.Error("whole too early")
		}
		all.Put(tile, 1, uint32(i%2), uint32(i/2))
		all.Put(tile, 1, 2, 0)
		all.Put(tile, 9, 0, 0)
		all.Put(image.NewGray(image.Rectangle{}), 1, 0, 0)
	}
	img, whole := all.Image()
	if !whole || !img.(*image.RGBA).Opaque() {
		t.Errorf("whole %v", whole)
	}
	want := color.RGBAModel.Convert(big.At(201, 301)).(color.RGBA)
	got := img.(*image.RGBA).RGBAAt(128+201/4, 128+301/4)
	if d := int(got.G) - int(want.G); d < -4 || d > 4 {
		t.Errorf("%v, want about %v", got, want)
	}
}

func BenchmarkMade(b *testing.B) {
	var data bytes.Buffer
	if err := jpeg.Encode(&data, soft(256, image.YCbCrSubsampleRatio420), nil); err != nil {
		b.Fatal(err)
	}
	parent, err := jpeg.Decode(&data)
	if err != nil {
		b.Fatal(err)
	}
	for name, how := range map[string]func() image.Image{
		"Child":   func() image.Image { return Child(parent, 1, 1, 1, 256) },
		"Enlarge": func() image.Image { return Enlarge(parent, 1, 1, 1, 256) },
		"Shrunk": func() image.Image {
			s := NewShrunk(256)
			for i := range uint32(4) {
				s.Put(parent, 1, i%2, i/2)
			}
			m, _ := s.Image()
			return m
		},
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				how()
			}
		})
		b.Run(fmt.Sprintf("%s and Encode", name), func(b *testing.B) {
			for b.Loop() {
				if _, err := Encode(how(), JPG); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
