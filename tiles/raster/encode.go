package raster

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"image/png"
)

// quality is the JPEG quality of encoded tiles, 1 to 100 (common practice: 85
// shows no blocks on aerial imagery).
const quality = 85

// Encode writes an image as a tile. JPEG has no transparency: see-through
// pixels come out over white. There is no WebP encoder here, so for WebP the
// result is a PNG: serve it as image/png.
func Encode(img image.Image, kind Kind) ([]byte, error) {
	var out bytes.Buffer
	var err error
	switch kind {
	case JPG:
		return EncodeJPEG(img, quality)
	case PNG, WebP:
		// Tiles are encoded while a phone waits: speed before size.
		err = (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&out, img)
	default:
		return nil, fmt.Errorf("encode tile: kind %q: want png, jpg or webp", kind)
	}
	if err != nil {
		return nil, fmt.Errorf("encode tile as %s: %w", kind, err)
	}
	return out.Bytes(), nil
}

// EncodeJPEG writes an image as a JPEG of a quality from 1 to 100.
func EncodeJPEG(img image.Image, quality int) ([]byte, error) {
	if quality < 1 || quality > 100 {
		return nil, fmt.Errorf("encode tile as jpg: quality %d: want 1 to 100", quality)
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, flat(img), &jpeg.Options{Quality: quality}); err != nil {
		return nil, fmt.Errorf("encode tile as jpg: %w", err)
	}
	return out.Bytes(), nil
}

// flat gives the image in a form that the JPEG encoder reads fast: any other
// form costs it an allocation for every pixel.
func flat(img image.Image) image.Image {
	switch m := img.(type) {
	case *image.YCbCr, *image.Gray:
		return img
	case *image.RGBA:
		if m.Opaque() {
			return img
		}
	}
	out := image.NewRGBA(img.Bounds())
	draw.Draw(out, out.Rect, image.White, image.Point{}, draw.Src)
	draw.Draw(out, out.Rect, img, out.Rect.Min, draw.Over)
	return out
}
