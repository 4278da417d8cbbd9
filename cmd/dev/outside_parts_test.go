//go:build outside

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/cmd/dev/ship"
)

// TestOutsideParts holds the list of parts of a release against the JSON schema of CycloneDX
// 1.5; what is wrong with a list is seen.
func TestOutsideParts(t *testing.T) {
	r := repo{filepath.Join("..", "..")}
	program := filepath.Join(t.TempDir(), "groundsheet")
	if err := r.run(t.Context(), "go", "build", "-o", program, "./cmd/groundsheet"); err != nil {
		t.Fatal(err)
	}
	k := kinds[0]
	if _, err := exec.LookPath(kinds[2].compiler); err == nil {
		k = kinds[2] // the same parts, and those of the compiler
	}
	parts, err := r.parts(t.Context(), k, program)
	if err != nil {
		t.Fatal(err)
	}
	list, err := ship.List("groundsheet", "1.2.0", parts)
	if err != nil {
		t.Fatal(err)
	}
	held := func(text string) (string, error) {
		file := filepath.Join(t.TempDir(), "parts.cdx.json")
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command("node", r.path("testdata", "reference", "parts.mjs"), file).CombinedOutput()
		return string(out), err
	}
	if out, err := held(string(list)); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
	for _, change := range [][2]string{{`"library"`, `"module"`}, {`"MIT"`, `"any"`}, {`"bom-ref": "SQLite@`, `"bom-ref": "other@`}, {`"version": 1`, `"version": "1"`}} {
		if out, err := held(strings.Replace(string(list), change[0], change[1], 1)); err == nil {
			t.Errorf("%s for %s is not seen\n%s", change[1], change[0], out)
		}
	}
}
