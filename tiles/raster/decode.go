package raster

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"

	"golang.org/x/image/webp"

	"groundsheet/tiles/fault"
)

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
