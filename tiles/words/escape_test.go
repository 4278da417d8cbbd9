package words

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"unicode/utf8"
)

func TestEscapeControls(t *testing.T) {
	for in, want := range map[string]string{
		"":                        "",
		"Valve 12 · 3′ 5″\tçµ中\n": "Valve 12 · 3′ 5″\tçµ中\n",
		"a\x1b[2Jb":               "a[U+001B][2Jb",
		"\u009b31mred":            "[U+009B]31mred",
		"\x9b31mred":              "[0x9B]31mred",
		"gas\u202eretaw\u2069":    "gas[U+202E]retaw[U+2069]",
		"fit\r NOT":               "fit[U+000D] NOT",
		"\x00\x7f\u2028":          "[U+0000][U+007F][U+2028]",
		"\ufffd is a sign":        "\ufffd is a sign",
		"family 👨\u200d👩":         "family 👨\u200d👩", // it joins, and turns nothing
	} {
		if got := EscapeControls(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

// FuzzWriter: whatever comes, in whatever pieces, nothing that acts comes out,
// what can be seen stays, and JSON means what it meant.
func FuzzWriter(f *testing.F) {
	f.Add("a\x1b[31m\u009b\u202e中\xe4\xb8", 3)
	f.Add("\xf0\x9f\x91", 1)
	f.Fuzz(func(t *testing.T, s string, piece int) {
		var plain, document bytes.Buffer
		out := NewWriter(&plain)
		text := []byte(s)
		for step := max(piece, 1); len(text) > 0; text = text[min(step, len(text)):] {
			if n, err := out.Write(text[:min(step, len(text))]); err != nil || n != min(step, len(text)) {
				t.Fatal(n, err)
			}
		}
		if err := out.Close(); err != nil {
			t.Fatal(err)
		}
		if plain.String() != EscapeControls(s) {
			t.Errorf("in pieces of %d: %q, want %q", piece, plain.String(), EscapeControls(s))
		}
		if err := json.NewEncoder(NewJSONWriter(&document)).Encode(s); err != nil {
			t.Fatal(err)
		}
		for _, got := range []string{plain.String(), document.String()} {
			if !utf8.ValidString(got) || strings.IndexFunc(got, isControl) >= 0 {
				t.Errorf("%q comes out of %q", got, s)
			}
		}
		var back string
		if err := json.Unmarshal(document.Bytes(), &back); err != nil || back != strings.ToValidUTF8(s, "\ufffd") && utf8.ValidString(s) {
			t.Errorf("%q became %q: %v", s, back, err)
		}
		if strings.IndexFunc(s, isControl) < 0 && utf8.ValidString(s) && plain.String() != s {
			t.Errorf("%q was changed to %q", s, plain.String())
		}
	})
}
