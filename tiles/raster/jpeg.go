package raster

import (
	"bytes"
	"encoding/binary"
	"fmt"
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
