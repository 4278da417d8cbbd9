package listen

import (
	"fmt"
	"strings"

	"rsc.io/qr"
)

// QRCode is a QR code of a text.
type QRCode struct{ code *qr.Code }

// NewQRCode makes the code of a text, such as [Access.JoinLink].
func NewQRCode(text string) (QRCode, error) {
	code, err := qr.Encode(text, qr.L)
	if err != nil {
		return QRCode{}, fmt.Errorf("the QR code cannot be drawn: %w", err)
	}
	return QRCode{code}, nil
}

// quiet is the light border that a QR code needs, in modules (ISO/IEC 18004).
const quiet = 4

// halfBlocks draw two modules, one over the other.
var halfBlocks = map[[2]bool]string{{true, true}: "█", {true, false}: "▀", {false, true}: "▄", {false, false}: " "}

// Lines draws two rows of modules in a line of text. colors states dark on light, for a
// terminal, whose own colors nobody knows; without it the text is meant for a light
// ground.
func (q QRCode) Lines(colors bool) []string {
	var lines []string
	for y := -quiet; y < q.code.Size+quiet; y += 2 {
		var b strings.Builder
		for x := -quiet; x < q.code.Size+quiet; x++ {
			b.WriteString(halfBlocks[[2]bool{q.code.Black(x, y), q.code.Black(x, y+1)}])
		}
		line := b.String()
		if colors {
			line = "\x1b[30;107m" + line + "\x1b[0m"
		}
		lines = append(lines, line)
	}
	return lines
}

// Path draws the dark modules as the path of an SVG, one unit a module, with the light
// border; side is the width and height of all of it.
func (q QRCode) Path() (path string, side int) {
	var b strings.Builder
	for y := range q.code.Size {
		for x := 0; x < q.code.Size; x++ {
			from := x
			for q.code.Black(x, y) {
				x++
			}
			if x > from {
				fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", from+quiet, y+quiet, x-from, x-from)
			}
		}
	}
	return b.String(), q.code.Size + 2*quiet
}
