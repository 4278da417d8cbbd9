package raster

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"
)

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
