package raster

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"image/png"
	"io"

	"golang.org/x/image/webp"

	"groundsheet/tiles/fault"
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
	case *image.NRGBA:
		if m.Opaque() { // the same pixels either way
			return &image.RGBA{Pix: m.Pix, Stride: m.Stride, Rect: m.Rect}
		}
	}
	out := image.NewRGBA(img.Bounds())
	draw.Draw(out, out.Rect, image.White, image.Point{}, draw.Src)
	draw.Draw(out, out.Rect, img, out.Rect.Min, draw.Over)
	return out
}

// cutQuality is the JPEG quality of tiles cut from a larger picture: high,
// because they are encoded a second time.
const cutQuality = 90

// Cut is one tile out of a decoded picture of several: the one in a column and
// row counted from the north-west, side×side pixels. kind is what the picture
// was. A JPEG is encoded again at quality 90; PNG and WebP come out as a PNG
// without loss, for there is no WebP encoder here. The kind of the tile is
// given back. A tile that does not lie within the picture is an error.
func Cut(picture image.Image, kind Kind, column, row uint32, side int) ([]byte, Kind, error) {
	b := picture.Bounds()
	at := b.Min.Add(image.Pt(int(column)*side, int(row)*side))
	part := image.Rectangle{Min: at, Max: at.Add(image.Pt(side, side))}
	whole, can := picture.(interface {
		SubImage(image.Rectangle) image.Image
	})
	if side <= 0 || !part.In(b) || !can {
		return nil, "", fmt.Errorf("cut tile %d/%d of %d×%d pixels: the picture has %d×%d", column, row,
			side, side, b.Dx(), b.Dy())
	}
	tile := whole.SubImage(part)
	if kind == JPG {
		data, err := EncodeJPEG(tile, cutQuality)
		return data, JPG, err
	}
	var out bytes.Buffer
	if err := png.Encode(&out, tile); err != nil {
		return nil, "", fmt.Errorf("encode tile as png: %w", err)
	}
	return out.Bytes(), PNG, nil
}

// MaxSide is the largest width or height that [Decode] accepts, in pixels: at
// most 128 MB of memory (16-bit RGBA), whatever a small file may declare.
const MaxSide = 4096

// Decode proves the bytes as [Prove] does, whatever the size, and decodes
// every pixel. More than [MaxSide] in width or height is refused before any
// memory is taken. The error is a [*fault.Fault].
func Decode(data []byte) (image.Image, error) {
	p, err := Prove(data, 0)
	if err != nil {
		return nil, err
	}
	if p.Width > MaxSide || p.Height > MaxSide {
		return nil, flaw(TooLarge, fmt.Sprintf("%d×%d pixels, more than %d×%d", p.Width, p.Height, MaxSide, MaxSide))
	}
	img, err := decoder(p.Kind)(bytes.NewReader(data))
	if err != nil {
		return nil, &fault.Fault{Kind: Broken, Detail: name(p.Kind) + " does not decode", Err: err}
	}
	return img, nil
}

func decoder(k Kind) func(io.Reader) (image.Image, error) {
	switch k {
	case JPG:
		return jpeg.Decode
	case WebP:
		return webp.Decode
	}
	return png.Decode
}
