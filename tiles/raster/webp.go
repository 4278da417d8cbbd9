package raster

import (
	"encoding/binary"
	"fmt"
)

// walkWebP follows the chunks of the RIFF container (WebP container
// specification, RFC 9649 section 2) to the length that it declares.
func walkWebP(data []byte) (p Picture, end int, err error) {
	p.Kind = WebP
	length := uint64(binary.LittleEndian.Uint32(data[4:]))
	if length > uint64(len(data)-8) {
		return p, 0, flaw(Truncated, fmt.Sprintf("WebP cut short (%d bytes declared, %d came)", length+8, len(data)))
	}
	end = 8 + int(length)
	canvas := Picture{}
	for at := 12; at < end; {
		kind, body, next, err := chunkWebP(data[:end], at)
		if err != nil {
			return p, 0, err
		}
		switch kind {
		case "VP8X":
			canvas, err = canvasWebP(body)
		case "VP8 ", "VP8L":
			if p.Width != 0 {
				return p, 0, flaw(Broken, "WebP with two images")
			}
			p.Width, p.Height, err = frameWebP(kind, body)
		case "ANIM", "ANMF":
			err = flaw(Variant, "an animated WebP, not a still image")
		}
		if err != nil {
			return p, 0, err
		}
		at = next
	}
	if p.Width == 0 {
		return p, 0, flaw(Broken, "WebP without image data")
	}
	if canvas.Width != 0 && (canvas.Width != p.Width || canvas.Height != p.Height) {
		return p, 0, flaw(Broken, "WebP whose canvas and image differ in size")
	}
	return p, end, nil
}

// chunkWebP reads the chunk at an offset; odd bodies are followed by one
// padding byte.
func chunkWebP(data []byte, at int) (kind string, body []byte, next int, err error) {
	if len(data)-at < 8 {
		return "", nil, 0, flaw(Broken, "WebP with a chunk cut short")
	}
	n := uint64(binary.LittleEndian.Uint32(data[at+4:]))
	if n+n%2 > uint64(len(data)-at-8) {
		return "", nil, 0, flaw(Broken, "WebP with a chunk that runs past the end")
	}
	at += 8
	return string(data[at-8 : at-4]), data[at : at+int(n)], at + int(n+n%2), nil
}

// canvasWebP reads the canvas of an extended file (RFC 9649, 2.7).
func canvasWebP(body []byte) (Picture, error) {
	if len(body) < 10 {
		return Picture{}, flaw(Broken, "WebP header of the wrong length")
	}
	side := func(b []byte) int { return 1 + int(b[0]) + int(b[1])<<8 + int(b[2])<<16 }
	return Picture{WebP, side(body[4:]), side(body[7:])}, nil
}

// frameWebP reads the dimensions of a lossy key frame (RFC 6386, 9.1) or a
// lossless image (RFC 9649, 3.4).
func frameWebP(kind string, body []byte) (width, height int, err error) {
	broken := flaw(Broken, "WebP with a damaged image header")
	if kind == "VP8L" {
		if len(body) < 5 || body[0] != 0x2f {
			return 0, 0, broken
		}
		bits := binary.LittleEndian.Uint32(body[1:])
		if bits>>29 != 0 {
			return 0, 0, broken
		}
		return 1 + int(bits&0x3fff), 1 + int(bits>>14&0x3fff), nil
	}
	if len(body) < 10 || body[0]&1 != 0 || string(body[3:6]) != "\x9d\x01\x2a" {
		return 0, 0, broken
	}
	first := int(body[0]>>5) | int(body[1])<<3 | int(body[2])<<11 // length of the first partition
	width = int(binary.LittleEndian.Uint16(body[6:]) & 0x3fff)
	height = int(binary.LittleEndian.Uint16(body[8:]) & 0x3fff)
	if first > len(body)-10 || width == 0 || height == 0 {
		return 0, 0, broken
	}
	return width, height, nil
}
