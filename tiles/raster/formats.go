package raster

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
)

// JPEG markers (ITU-T T.81, table B.1).
const (
	markerSOF0 = 0xc0 // baseline
	markerSOF2 = 0xc2 // progressive; SOF1 (extended) lies between
	markerDHT  = 0xc4
	markerJPG  = 0xc8
	markerDAC  = 0xcc
	markerRST0 = 0xd0
	markerRST7 = 0xd7
	markerSOI  = 0xd8
	markerEOI  = 0xd9
	markerSOS  = 0xda
)

// walkJPEG follows the marker segments (ITU-T T.81, B.1.1) to the end marker.
// Segments are skipped by their length, so an end marker inside a thumbnail
// does not count.
func walkJPEG(data []byte) (p Picture, end int, err error) {
	p.Kind = JPG
	scans := 0
	for at := 2; ; {
		marker, body, next, err := segmentJPEG(data, at)
		if err != nil {
			return p, 0, err
		}
		switch {
		case marker == markerEOI && (scans == 0 || p.Width == 0):
			return p, 0, flaw(Broken, "JPEG without picture data")
		case marker == markerEOI:
			return p, next, nil
		case isFrame(marker):
			if p.Width != 0 {
				return p, 0, flaw(Broken, "JPEG with two frame headers")
			}
			if p.Width, p.Height, err = frameJPEG(marker, body); err != nil {
				return p, 0, err
			}
		case marker == markerSOS:
			if p.Width == 0 {
				return p, 0, flaw(Broken, "JPEG scan before the frame header")
			}
			scans++
			begin := next
			next = entropyJPEG(data, begin)
			if next == begin {
				return p, 0, flaw(Broken, "JPEG with an empty scan")
			}
		}
		at = next
	}
}

// segmentJPEG reads the marker at an offset and its segment, if it has one.
func segmentJPEG(data []byte, at int) (marker byte, body []byte, next int, err error) {
	short := flaw(Truncated, "JPEG cut short (no end marker)")
	if at >= len(data) {
		return 0, nil, 0, short
	}
	if data[at] != 0xff {
		return 0, nil, 0, flaw(Broken, fmt.Sprintf("JPEG damaged (no marker at byte %d)", at))
	}
	for at < len(data) && data[at] == 0xff { // fill bytes may precede a marker
		at++
	}
	if at >= len(data) {
		return 0, nil, 0, short
	}
	marker, at = data[at], at+1
	switch {
	case marker == markerEOI || marker >= markerRST0 && marker <= markerRST7:
		return marker, nil, at, nil
	case marker < markerSOF0 || marker == markerSOI:
		return 0, nil, 0, flaw(Broken, fmt.Sprintf("JPEG damaged (marker %02x at byte %d)", marker, at-1))
	case len(data)-at < 2:
		return 0, nil, 0, short
	}
	n := int(binary.BigEndian.Uint16(data[at:]))
	if n < 2 {
		return 0, nil, 0, flaw(Broken, fmt.Sprintf("JPEG damaged (segment length at byte %d)", at))
	}
	if n > len(data)-at {
		return 0, nil, 0, short
	}
	return marker, data[at+2 : at+n], at + n, nil
}

// isFrame reports whether the marker is one of SOF0 to SOF15.
func isFrame(marker byte) bool {
	return marker >= markerSOF0 && marker <= 0xcf &&
		marker != markerDHT && marker != markerJPG && marker != markerDAC
}

// frameJPEG reads the dimensions from a frame header (ITU-T T.81, B.2.2).
func frameJPEG(marker byte, body []byte) (width, height int, err error) {
	if marker > markerSOF2 {
		return 0, 0, flaw(Variant, "JPEG of a lossless, hierarchical or arithmetic kind, which browsers do not show")
	}
	if len(body) < 6 || len(body) != 6+3*int(body[5]) {
		return 0, 0, flaw(Broken, "JPEG frame header of the wrong length")
	}
	if body[0] != 8 {
		return 0, 0, flaw(Variant, fmt.Sprintf("JPEG of %d bits a sample, which browsers do not show", body[0]))
	}
	height, width = int(binary.BigEndian.Uint16(body[1:])), int(binary.BigEndian.Uint16(body[3:]))
	if width == 0 || height == 0 || body[5] == 0 {
		return 0, 0, flaw(Broken, fmt.Sprintf("JPEG frame header with impossible dimensions %d×%d", width, height))
	}
	return width, height, nil
}

// entropyJPEG skips entropy-coded data: it ends at the first 0xff that is
// followed by neither a stuffed zero nor a restart marker.
func entropyJPEG(data []byte, at int) int {
	for {
		i := bytes.IndexByte(data[at:], 0xff)
		if i < 0 || at+i+1 >= len(data) {
			return len(data)
		}
		at += i
		if b := data[at+1]; b != 0 && (b < markerRST0 || b > markerRST7) {
			return at
		}
		at += 2
	}
}

// pngSignature opens every PNG (PNG 3rd edition, 5.2).
const pngSignature = "\x89PNG\r\n\x1a\n"

// walkPNG follows the chunks (PNG 3rd edition, 5.3: length, type, data, CRC
// over type and data) to IEND.
func walkPNG(data []byte) (p Picture, end int, err error) {
	p.Kind = PNG
	pixels := false
	for at := len(pngSignature); ; {
		kind, body, next, err := chunkPNG(data, at)
		if err != nil {
			return p, 0, err
		}
		switch {
		case p.Width == 0:
			if kind != "IHDR" {
				return p, 0, flaw(Broken, "PNG does not begin with its header")
			}
			if p.Width, p.Height, err = headerPNG(body); err != nil {
				return p, 0, err
			}
		case kind == "IDAT":
			pixels = pixels || len(body) > 0
		case kind == "IEND" && !pixels:
			return p, 0, flaw(Broken, "PNG without image data")
		case kind == "IEND":
			return p, next, nil
		}
		at = next
	}
}

// chunkPNG reads the chunk at an offset and checks its CRC.
func chunkPNG(data []byte, at int) (kind string, body []byte, next int, err error) {
	const frame = 12 // length, type and CRC, four bytes each
	if len(data)-at < frame {
		return "", nil, 0, flaw(Truncated, "PNG cut short (no end chunk)")
	}
	n := uint64(binary.BigEndian.Uint32(data[at:]))
	if n > uint64(len(data)-at-frame) {
		return "", nil, 0, flaw(Truncated, "PNG cut short (a chunk runs past the end)")
	}
	stop := at + 8 + int(n)
	if crc32.ChecksumIEEE(data[at+4:stop]) != binary.BigEndian.Uint32(data[stop:]) {
		return "", nil, 0, flaw(Checksum, fmt.Sprintf("PNG damaged (bad checksum in the chunk at byte %d)", at))
	}
	return string(data[at+4 : at+8]), data[at+8 : stop], stop + 4, nil
}

// headerPNG reads the dimensions of IHDR (PNG 3rd edition, 11.2.1): both from
// 1 to 2^31-1.
func headerPNG(body []byte) (width, height int, err error) {
	if len(body) != 13 {
		return 0, 0, flaw(Broken, "PNG header of the wrong length")
	}
	w, h := binary.BigEndian.Uint32(body), binary.BigEndian.Uint32(body[4:])
	if w == 0 || h == 0 || w > 1<<31-1 || h > 1<<31-1 {
		return 0, 0, flaw(Broken, fmt.Sprintf("PNG header with impossible dimensions %d×%d", w, h))
	}
	return int(w), int(h), nil
}

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
