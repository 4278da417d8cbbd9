package main

import (
	"fmt"
	"strings"

	"rsc.io/qr"
)

// quiet is the light border that a QR code needs, in modules (ISO/IEC 18004).
const quiet = 4

// halfBlocks draw two modules, one over the other.
var halfBlocks = map[[2]bool]string{{true, true}: "█", {true, false}: "▀", {false, true}: "▄", {false, false}: " "}

// drawQR draws two rows of modules in a line of text. colors states dark on light,
// for a terminal, whose own colors nobody knows; without it the text is meant for a
// light ground.
func drawQR(text string, colors bool) ([]string, error) {
	code, err := qr.Encode(text, qr.L)
	if err != nil {
		return nil, fmt.Errorf("the QR code cannot be drawn: %w", err)
	}
	var lines []string
	for y := -quiet; y < code.Size+quiet; y += 2 {
		var b strings.Builder
		for x := -quiet; x < code.Size+quiet; x++ {
			b.WriteString(halfBlocks[[2]bool{code.Black(x, y), code.Black(x, y+1)}])
		}
		line := b.String()
		if colors {
			line = "\x1b[30;107m" + line + "\x1b[0m"
		}
		lines = append(lines, line)
	}
	return lines, nil
}
