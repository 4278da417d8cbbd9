package pack

import (
	"strings"
	"testing"
)

// TestBadValueNamesItsKey: the line and the key of a value that cannot be read.
func TestBadValueNamesItsKey(t *testing.T) {
	for text, want := range map[string]string{
		"name = \"a\"\nmargin = \"24\"\n":                 `line 2, column 10: margin: distance "24": want a number with a unit`,
		"name = \"a\"\n[tolerance]\neach_side = \"24\"\n": `line 3, column 13: tolerance.each_side: distance "24"`,
	} {
		if _, err := ParseJob([]byte(text), "site"); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %s", err, want)
		}
	}
}
