package check

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestEveryKindIsKnown: a finding of a kind that nobody listed would be taken for
// one of the job, and a damaged pack would stay.
func TestEveryKindIsKnown(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	made := regexp.MustCompile(`(?:c\.add|c\.addAt|\tadd|found)\("([^"]+)", (?:Fault|Warning|Note)`)
	n := 0
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		for _, m := range made.FindAllStringSubmatch(string(text), -1) {
			if n++; kinds[m[1]] == "" {
				t.Errorf("%s: kind %q is not in kinds", name, m[1])
			}
		}
	}
	if n < 40 {
		t.Errorf("only %d findings were found in the sources", n)
	}
}
