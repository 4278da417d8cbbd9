package words

import (
	"fmt"
	"io"
	"strings"
	"sync"
	"unicode/utf8"
)

// isControl reports whether a character controls a screen instead of appearing on
// it: the control characters (ISO/IEC 6429: C0, DEL and C1) but tab and new
// line, line ends of their own kind, and what turns the direction of writing
// (Unicode Standard Annex 9, 2).
func isControl(r rune) bool {
	switch {
	case r == '\n', r == '\t':
		return false
	case r < ' ', r >= 0x7f && r <= 0x9f,
		r == 0x61c, r == 0x200e, r == 0x200f, r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069,
		r == 0x2028, r == 0x2029:
		return true
	}
	return false
}

// EscapeControls makes control characters readable:
// "[U+001B]" for an escape, "[0x9B]" for an invalid byte. Text from
// files and sources can then neither move a cursor nor reorder the words around it.
func EscapeControls(s string) string { return escape(s, "[U+%04X]", "[0x%02X]") }

// escape writes control characters in the given forms, for a character and for a bare byte.
func escape(s, sign, bare string) string {
	if utf8.ValidString(s) && strings.IndexFunc(s, isControl) < 0 {
		return s
	}
	var b strings.Builder
	for len(s) > 0 {
		r, n := utf8.DecodeRuneInString(s)
		switch {
		case r == utf8.RuneError && n == 1:
			fmt.Fprintf(&b, bare, s[0])
		case isControl(r):
			fmt.Fprintf(&b, sign, r)
		default:
			b.WriteString(s[:n])
		}
		s = s[n:]
	}
	return b.String()
}

// Writer lets [EscapeControls] text through to another writer. It is safe for use by
// several goroutines. Make it with [NewWriter] or [NewJSONWriter].
type Writer struct {
	sign, bare string
	mu         sync.Mutex
	to         io.Writer
	cut        []byte // the beginning of an incomplete character
}

// NewWriter is a Writer for text.
func NewWriter(to io.Writer) *Writer { return &Writer{sign: "[U+%04X]", bare: "[0x%02X]", to: to} }

// NewJSONWriter is a Writer for JSON, in which such characters occur only in
// strings: they are written as escapes of JSON (RFC 8259, 7), which mean the same.
func NewJSONWriter(to io.Writer) *Writer { return &Writer{sign: `\u%04x`, bare: `\u00%02x`, to: to} }

// Write writes the text; an incomplete character waits for its end.
func (w *Writer) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	text := append(w.cut, p...)
	whole := completeLength(text)
	w.cut = append([]byte(nil), text[whole:]...)
	if _, err := io.WriteString(w.to, escape(string(text[:whole]), w.sign, w.bare)); err != nil {
		return 0, err
	}
	return len(p), nil
}

// Close writes an incomplete character. It does not close the other writer.
func (w *Writer) Close() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	_, err := io.WriteString(w.to, escape(string(w.cut), w.sign, w.bare))
	w.cut = nil
	return err
}

// completeLength is the length of a text without an incomplete character at its end.
func completeLength(text []byte) int {
	for i := len(text) - 1; i >= max(len(text)-utf8.UTFMax+1, 0); i-- {
		if utf8.RuneStart(text[i]) {
			if !utf8.FullRune(text[i:]) {
				return i
			}
			break
		}
	}
	return len(text)
}
