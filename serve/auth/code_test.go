package auth

import (
	"strings"
	"testing"
)

func TestMadeCodes(t *testing.T) {
	seen := map[string]bool{}
	digits := map[byte]int{}
	for range 2000 {
		c := generateCode()
		if len(c) != codeDigits || !onlyDigits(c) || seen[c] {
			t.Fatalf("code %q", c)
		}
		seen[c] = true
		for i := range len(c) {
			digits[c[i]]++
		}
	}
	for d := byte('0'); d <= '9'; d++ { // 2,400 expected, 46 the standard deviation
		if digits[d] < 2100 || digits[d] > 2700 {
			t.Errorf("digit %c came %d times in 24,000", d, digits[d])
		}
	}
}

func TestSpoken(t *testing.T) {
	for code, want := range map[string]string{"012345678901": "012 345 678 901", "larkwater190": "larkwater190", "0123456789": "0123456789", "123": "123", "": ""} {
		if got := FormatCode(code); got != want {
			t.Errorf("%q: %q", code, got)
		}
		if normalize(FormatCode(code)) != code {
			t.Errorf("%q does not come back", code)
		}
	}
}

func TestChosenCode(t *testing.T) {
	for code, want := range map[string]string{
		"Larkwater 190":            "larkwater190",
		"12-34.56 78 90-12":        "123456789012",
		"12345678901":              "!12 to 64",
		"":                         "!12 to 64",
		"111111111111":             "!easy to guess",
		"121212121212":             "!easy to guess",
		"größer-als-8":             "!a to z",
		"semi;colon":               "!a to z",
		strings.Repeat("a1b2", 17): "!12 to 64",
	} {
		got, err := checkChosen(code)
		if bad, is := strings.CutPrefix(want, "!"); is {
			if err == nil || !strings.Contains(err.Error(), bad) {
				t.Errorf("%q: %q, %v", code, got, err)
			}
		} else if err != nil || got != want {
			t.Errorf("%q: %q, %v", code, got, err)
		}
	}
}

func TestSameCode(t *testing.T) {
	for _, c := range []struct {
		typed, code string
		same        bool
	}{
		{"4829157036", "4829157036", true}, {" 482 915-7036\n", "4829157036", true}, {"LarkWater7", "larkwater7", true},
		{"4829157035", "4829157036", false}, {"482915703", "4829157036", false}, {"48291570366", "4829157036", false},
		{"", "4829157036", false}, {"", "", false},
	} {
		if sameCode(c.typed, c.code) != c.same {
			t.Errorf("%q, %q: not %v", c.typed, c.code, c.same)
		}
	}
}

// FuzzChosen: what is taken can be typed again, with spaces too, and is what it is.
func FuzzChosen(f *testing.F) {
	for _, s := range []string{"larkwater 7", "48 29 15 70", "\x00\xff", strings.Repeat("x", 100), "１２３４５６７８"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, err := checkChosen(s)
		if err != nil {
			return
		}
		again, err := checkChosen(p)
		if err != nil || again != p || !sameCode(s, p) || !sameCode(p[:4]+" "+p[4:], p) {
			t.Errorf("%q: %q, %q, %v", s, p, again, err)
		}
	})
}
