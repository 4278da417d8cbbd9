package main

import (
	"encoding/xml"
	"errors"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

// TestPicturesOfREADME: README shows the pictures that the chore makes, all of them and no
// others; each is there and small.
func TestPicturesOfREADME(t *testing.T) {
	root := filepath.Join("..", "..")
	text, err := os.ReadFile(filepath.Join(root, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	var shown []string
	for _, m := range regexp.MustCompile(`testdata/pictures/([\w.-]+)`).FindAllStringSubmatch(string(text), -1) {
		shown = append(shown, m[1])
	}
	if !slices.Equal(slices.Sorted(slices.Values(shown)), slices.Sorted(slices.Values(readmePictures))) {
		t.Errorf("README shows %v, the chore makes %v", shown, readmePictures)
	}
	files, err := os.ReadDir(filepath.Join(root, "testdata", "pictures"))
	if err != nil {
		t.Fatal(err)
	}
	largest := func(name string) int64 {
		if name == "desk.webp" {
			return largestScreen
		}
		return largestPicture
	}
	var all int64
	for _, f := range files {
		info, err := f.Info()
		if err != nil || !slices.Contains(readmePictures, f.Name()) || info.Size() == 0 || info.Size() > largest(f.Name()) {
			t.Errorf("%s: %v, %d bytes; the chore makes %v, of %d bytes at most", f.Name(), err, info.Size(), readmePictures, largest(f.Name()))
		}
		all += info.Size()
	}
	if len(files) != len(readmePictures) || all > largestPictures {
		t.Errorf("%d pictures of %d bytes; want %d of %d bytes at most", len(files), all, len(readmePictures), largestPictures)
	}
	if alone := regexp.MustCompile(`(?s)<img [^>]*alt=""|!\[\]`).FindString(string(text)); alone != "" {
		t.Errorf("a picture without words: %s", alone)
	}
}

// TestTerminal: the drawing holds every word, whatever it is, and no line is wider than it.
func TestTerminal(t *testing.T) {
	words := "zoom < 3 & \"more\"\n\n" + strings.Repeat("long line ", 30) + "\n" + strings.Repeat("x", 250)
	d := xml.NewDecoder(strings.NewReader(string(terminal(words))))
	var lines []string
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if s, ok := token.(xml.StartElement); ok && s.Name.Local == "text" {
			var line string
			if err := d.DecodeElement(&line, &s); err != nil {
				t.Fatal(err)
			}
			if utf8.RuneCountInString(line) > terminalColumns {
				t.Errorf("too wide: %q", line)
			}
			lines = append(lines, line)
		}
	}
	if got := strings.Join(strings.Fields(strings.Join(lines, " ")), " "); !strings.HasPrefix(got, `zoom < 3 & "more" long line`) || strings.Count(got, "x") != 250 || strings.Count(got, "long line") != 30 {
		t.Errorf("%s", got)
	}
}
