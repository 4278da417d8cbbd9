package raster

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"testing"
)

// Every tile of a picture is its own part, whatever form the decoder gave the
// pixels, and PNG loses nothing.
func TestCut(t *testing.T) {
	const side, n = 16, 3
	box := image.Rect(0, 0, n*side, n*side)
	paint := func(img draw.Image) image.Image {
		_, opaque := img.(*image.RGBA) // the decoders give see-through pixels as NRGBA
		for y := range n * side {
			for x := range n * side {
				c := color.NRGBA{uint8(x * 5), uint8(y * 5), uint8(x ^ y), uint8(255 - x)}
				if opaque {
					c.A = 255
				}
				img.Set(x, y, c)
			}
		}
		return img
	}
	palette := color.Palette{color.Transparent, color.Black, color.White, color.RGBA{200, 30, 30, 255}}
	for name, img := range map[string]image.Image{
		"NRGBA": paint(image.NewNRGBA(box)), "RGBA": paint(image.NewRGBA(box)), "Gray": paint(image.NewGray(box)), "Gray16": paint(image.NewGray16(box)),
		"NRGBA64": paint(image.NewNRGBA64(box)), "Paletted": paint(image.NewPaletted(box, palette)),
	} {
		for row := range uint32(n) {
			for column := range uint32(n) {
				data, kind, err := Cut(img, PNG, column, row, side)
				if err != nil || kind != PNG {
					t.Fatalf("%s: %v %v", name, kind, err)
				}
				got, err := png.Decode(bytes.NewReader(data))
				if err != nil {
					t.Fatal(err)
				}
				for y := range side {
					for x := range side {
						want := img.At(int(column)*side+x, int(row)*side+y)
						if g, w := color.NRGBA64Model.Convert(got.At(x, y)), color.NRGBA64Model.Convert(want); g != w {
							t.Fatalf("%s tile %d/%d at %d,%d: %v, want %v", name, column, row, x, y, g, w)
						}
					}
				}
				if p, err := Prove(data, side); err != nil || p.Kind != PNG {
					t.Fatalf("%s: %v", name, err)
				}
			}
		}
	}
}

func TestCutKinds(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 512, 512))
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, nil); err != nil {
		t.Fatal(err)
	}
	decoded, err := Decode(buf.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	for from, to := range map[Kind]Kind{JPG: JPG, PNG: PNG, WebP: PNG} {
		data, kind, err := Cut(decoded, from, 1, 1, 256)
		if err != nil || kind != to {
			t.Fatalf("%s: %s, %v", from, kind, err)
		}
		if p, err := Prove(data, 256); err != nil || p.Kind != to {
			t.Errorf("%s: %v, %v", from, p, err)
		}
	}
	for _, bad := range [][3]int{{2, 0, 256}, {0, 2, 256}, {0, 0, 0}, {0, 0, 513}} {
		if _, _, err := Cut(decoded, PNG, uint32(bad[0]), uint32(bad[1]), bad[2]); err == nil {
			t.Errorf("%v: no error", bad)
		}
	}
}
