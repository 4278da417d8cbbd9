package raster

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"math"
	"testing"
)

var quarters = [2][2]color.RGBA{
	{{200, 10, 10, 255}, {10, 200, 10, 255}},
	{{10, 10, 200, 255}, {200, 200, 10, 255}},
}

// fourColors is north-west red, north-east green, south-west blue,
// south-east yellow; its corner lies away from the origin.
func fourColors(side int) *image.RGBA {
	m := image.NewRGBA(image.Rect(-7, 11, -7+side, 11+side))
	for y := range side {
		for x := range side {
			m.SetRGBA(x-7, y+11, quarters[y*2/side][x*2/side])
		}
	}
	return m
}

func TestChildOfNoZoomsIsTheParent(t *testing.T) {
	parent := slope(256)
	if got := Child(parent, 0, 0, 0, 256); !bytes.Equal(got.Pix, parent.Pix) {
		t.Error("the pixels differ")
	}
	if got := Child(fourColors(64), 0, 0, 0, 64); got.Rect.Min != (image.Point{}) || got.RGBAAt(0, 63) != quarters[1][0] {
		t.Errorf("a parent away from the origin: %v, south-west %v", got.Rect, got.RGBAAt(0, 63))
	}
}

func TestChildrenTakeTheirQuarter(t *testing.T) {
	for _, parentSide := range []int{256, 512, 100, 4} {
		for down := uint32(1); down <= 12; down++ {
			last := uint32(1)<<down - 1
			for _, c := range []struct{ x, y uint32 }{{0, 0}, {last, 0}, {0, last}, {last, last}} {
				t.Run(fmt.Sprintf("parent %d, %d zooms down, %d/%d", parentSide, down, c.x, c.y), func(t *testing.T) {
					got := Child(fourColors(parentSide), down, c.x, c.y, 64)
					if got.Rect != image.Rect(0, 0, 64, 64) {
						t.Fatalf("size %v", got.Rect)
					}
					// The far corner of the parent is never mixed with another quarter.
					at := image.Pt(63*int(c.x/last), 63*int(c.y/last))
					want := quarters[c.y/last][c.x/last]
					if p := got.RGBAAt(at.X, at.Y); p != want {
						t.Errorf("corner %v is %v, want %v", at, p, want)
					}
				})
			}
		}
	}
}

func TestChildrenPlacePixels(t *testing.T) {
	parent := image.NewRGBA(image.Rect(0, 0, 256, 256))
	draw.Draw(parent, parent.Rect, image.Black, image.Point{}, draw.Src)
	parent.Set(37, 201, color.White)
	for _, c := range []struct{ down, x, y uint32 }{{1, 0, 1}, {2, 0, 3}, {3, 1, 6}, {6, 9, 50}, {8, 37, 201}} {
		t.Run(fmt.Sprintf("%d zooms down", c.down), func(t *testing.T) {
			got := Child(parent, c.down, c.x, c.y, 256)
			scale := float64(int(1) << c.down)
			x := (37.5 - float64(c.x)*256/scale) * scale
			y := (201.5 - float64(c.y)*256/scale) * scale
			sx, sy, sum := 0.0, 0.0, 0.0
			for i := range 256 * 256 {
				v := float64(got.Pix[i*4])
				sx, sy, sum = sx+v*(float64(i%256)+.5), sy+v*(float64(i/256)+.5), sum+v
			}
			if math.Abs(sx/sum-x) > 0.01*scale+0.01 || math.Abs(sy/sum-y) > 0.01*scale+0.01 {
				t.Errorf("the white pixel lies at %.2f/%.2f, want %.2f/%.2f", sx/sum, sy/sum, x, y)
			}
		})
	}
}

func TestNeighborsJoinWithoutASeam(t *testing.T) {
	parent := slope(256)
	for down := uint32(1); down <= 8; down++ {
		half := uint32(1) << (down - 1) // a seam near the middle of the parent
		west, east := Child(parent, down, half-1, half, 256), Child(parent, down, half, half, 256)
		for y := range 256 {
			a, b := west.RGBAAt(255, y).R, east.RGBAAt(0, y).R
			if math.Abs(float64(a)-float64(b)) > 2 { // one step of the slope is 1
				t.Fatalf("%d zooms down, row %d: %d beside %d", down, y, a, b)
			}
		}
	}
}

func TestChildIsNeverEmpty(t *testing.T) {
	parent := fourColors(256)
	for _, c := range []struct {
		name       string
		down, x, y uint32
		want       color.RGBA
	}{
		{"part of a pixel, north-east", 12, 4095, 0, quarters[0][1]},
		{"far below a pixel, south-west", 24, 0, 1<<24 - 1, quarters[1][0]},
		{"32 zooms, south-east", 32, math.MaxUint32, math.MaxUint32, quarters[1][1]},
		{"absurdly deep", math.MaxUint32, 0, 0, quarters[0][0]},
		{"column and row beyond the last", 1, 9, 9, quarters[1][1]},
		{"middle, first pixel of the south-east", 10, 512, 512, quarters[1][1]},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := Child(parent, c.down, c.x, c.y, 0).RGBAAt(255, 255); got != c.want {
				t.Errorf("%v, want %v", got, c.want)
			}
		})
	}
	if got := Child(image.NewRGBA(image.Rectangle{}), 1, 0, 0, 0).Rect; got != image.Rect(0, 0, 256, 256) {
		t.Errorf("of an empty parent: %v", got)
	}
}

func TestEncodeRoundTrip(t *testing.T) {
	clear := image.NewNRGBA(image.Rect(0, 0, 64, 64))
	for _, c := range []struct {
		name string
		img  image.Image
		kind Kind
		want Kind
		near color.RGBA // at 48/48
	}{
		{"jpg from RGBA", fourColorsAtOrigin(), JPG, JPG, quarters[1][1]},
		{"png", fourColorsAtOrigin(), PNG, PNG, quarters[1][1]},
		{"webp comes as png", fourColorsAtOrigin(), WebP, PNG, quarters[1][1]},
		{"see-through jpg is white", clear, JPG, JPG, color.RGBA{255, 255, 255, 255}},
		{"see-through png stays so", clear, PNG, PNG, color.RGBA{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			data, err := Encode(c.img, c.kind)
			if err != nil {
				t.Fatal(err)
			}
			if p, err := Prove(data, 64); err != nil || p.Kind != c.want {
				t.Fatalf("proved as %v, %v", p, err)
			}
			m, err := Decode(data)
			if err != nil {
				t.Fatal(err)
			}
			got := color.RGBAModel.Convert(m.At(48, 48)).(color.RGBA)
			for i, d := range []int{int(got.R) - int(c.near.R), int(got.G) - int(c.near.G), int(got.B) - int(c.near.B), int(got.A) - int(c.near.A)} {
				if d < -12 || d > 12 {
					t.Errorf("channel %d: %v, want near %v", i, got, c.near)
				}
			}
		})
	}
	if _, err := Encode(clear, "gif"); err == nil {
		t.Error("gif is encoded")
	}
}

func fourColorsAtOrigin() *image.RGBA { return Child(fourColors(64), 0, 0, 0, 64) }

func BenchmarkOverzoom(b *testing.B) {
	parent, err := jpeg.Decode(bytes.NewReader(asJPEG(b, slope(256))))
	if err != nil {
		b.Fatal(err)
	}
	for _, down := range []uint32{1, 4, 8} {
		b.Run(fmt.Sprintf("Child/%d", down), func(b *testing.B) {
			for b.Loop() {
				Child(parent, down, 1, 1, 256)
			}
		})
	}
	b.Run("Child and Encode/1", func(b *testing.B) {
		for b.Loop() {
			if _, err := Encode(Child(parent, 1, 1, 1, 256), JPG); err != nil {
				b.Fatal(err)
			}
		}
	})
}
