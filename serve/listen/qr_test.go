package listen

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"
)

// modules gives drawn lines back as rows of 0 and 1.
func modules(lines []string) string {
	var all strings.Builder
	for _, line := range lines {
		line = strings.TrimSuffix(strings.TrimPrefix(line, "\x1b[30;107m"), "\x1b[0m")
		all.WriteString(strings.NewReplacer("█", "1", "▀", "1", "▄", "0", " ", "0").Replace(line) + "\n")
		all.WriteString(strings.NewReplacer("█", "1", "▀", "0", "▄", "1", " ", "0").Replace(line) + "\n")
	}
	return all.String()
}

// painted paints the rectangles of a path as rows of 0 and 1.
func painted(path string, side int) string {
	rows := make([][]byte, side)
	for i := range rows {
		rows[i] = bytes.Repeat([]byte{'0'}, side)
	}
	for _, part := range strings.Split(strings.Trim(path, "z"), "z") {
		var x, y, wide, back int
		if _, err := fmt.Sscanf(part, "M%d %dh%dv1h-%d", &x, &y, &wide, &back); err != nil || wide != back {
			return err.Error()
		}
		for i := range wide {
			rows[y][x+i] = '1'
		}
	}
	return string(bytes.Join(rows, []byte("\n")))
}

// TestQRCode: a square with a light border of four modules and the three marks in
// its corners (ISO/IEC 18004), small enough for a terminal of 80×24.
func TestQRCode(t *testing.T) {
	for _, colors := range []bool{false, true} {
		code, err := NewQRCode("https://192.168.100.100:8460/join#012345678901")
		if err != nil {
			t.Fatal(err)
		}
		lines := code.Lines(colors)
		rows := strings.Fields(modules(lines))
		wide := len(rows[0])
		if len(rows) < wide || len(rows) > wide+1 || len(lines) > 23 || wide > 80 {
			t.Fatalf("%d rows of %d modules in %d lines", len(rows), wide, len(lines))
		}
		light := strings.Repeat("0", wide)
		for i, row := range rows {
			edge := i < quiet || i >= wide-quiet
			if len(row) != wide || edge && row != light || row[:quiet] != "0000" || row[wide-quiet:] != "0000" {
				t.Fatalf("row %d: %s", i, row)
			}
		}
		if mark := "1111111"; rows[quiet][quiet:quiet+7] != mark || rows[quiet][wide-quiet-7:wide-quiet] != mark || rows[wide-quiet-1][quiet:quiet+7] != mark {
			t.Errorf("%s", strings.Join(rows, "\n"))
		}
		if path, side := code.Path(); side != wide || painted(path, side) != strings.Join(rows[:side], "\n") {
			t.Errorf("the path of %d modules is another picture", side)
		}
		for _, line := range lines {
			if colors != strings.HasPrefix(line, "\x1b[30;107m") || colors != strings.HasSuffix(line, "\x1b[0m") || !utf8.ValidString(line) {
				t.Errorf("%q", line)
			}
		}
	}
	if _, err := NewQRCode(strings.Repeat("x", 5000)); err == nil {
		t.Error("five thousand letters fit into a QR code")
	}
}
