package raster

import (
	"bytes"
	"cmp"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"slices"
)

// EncodeFlat writes a drawing of a few flat colors as a PNG with a palette, a fraction
// as large as one without. A drawing of no more than 256 colors loses nothing; of more,
// the rarest become the nearest of the others. The same pixels give the same bytes.
func EncodeFlat(img *image.RGBA) ([]byte, error) {
	const most = 256
	counts := map[color.RGBA]int{}
	for y := img.Rect.Min.Y; y < img.Rect.Max.Y; y++ {
		for x := img.Rect.Min.X; x < img.Rect.Max.X; x++ {
			counts[img.RGBAAt(x, y)]++
		}
	}
	all := make([]color.RGBA, 0, len(counts))
	for c := range counts {
		all = append(all, c)
	}
	slices.SortFunc(all, func(a, b color.RGBA) int {
		return cmp.Or(cmp.Compare(counts[b], counts[a]), cmp.Compare(a.R, b.R), cmp.Compare(a.G, b.G), cmp.Compare(a.B, b.B), cmp.Compare(a.A, b.A))
	})
	palette, index := color.Palette{}, map[color.RGBA]uint8{}
	for i, c := range all {
		if i < most {
			palette = append(palette, c)
			index[c] = uint8(i)
		} else {
			index[c] = uint8(palette.Index(c))
		}
	}
	flat := image.NewPaletted(image.Rect(0, 0, img.Rect.Dx(), img.Rect.Dy()), palette)
	for y := range flat.Rect.Dy() {
		for x := range flat.Rect.Dx() {
			flat.Pix[y*flat.Stride+x] = index[img.RGBAAt(img.Rect.Min.X+x, img.Rect.Min.Y+y)]
		}
	}
	var out bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&out, flat); err != nil {
		return nil, fmt.Errorf("encode tile as png: %w", err)
	}
	return out.Bytes(), nil
}
