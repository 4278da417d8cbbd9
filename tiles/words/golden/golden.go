// Package golden holds texts that are said to people against files to review.
// Tests alone import it: it adds their flag -update.
package golden

import (
	"flag"
	"os"
	"path/filepath"
	"testing"
)

var update = flag.Bool("update", false, "write the golden texts anew")

// Hold fails a test whose text is not that of testdata/NAME.txt. With -update the
// file is written first.
func Hold(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name+".txt")
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil || got != string(want) {
		t.Errorf("%v: the words differ from %s; run with -update and look at them\n%s", err, path, got)
	}
}
