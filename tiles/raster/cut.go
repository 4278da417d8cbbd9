package raster

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
)

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
		return nil, "", fmt.Errorf("cut tile %d/%d of %d×%d pixels: the picture has %d×%d", column, row, side, side, b.Dx(), b.Dy())
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
