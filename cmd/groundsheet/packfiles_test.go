package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// TestPackFiles: a job folder stands for its packs; what else is named stays.
func TestPackFiles(t *testing.T) {
	job, plain := filepath.Join(t.TempDir(), "My Job 1"), t.TempDir()
	for path, text := range map[string]string{
		filepath.Join(job, "job.toml"): "", filepath.Join(plain, "x.mbtiles"): "",
	} {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	_, err := packFiles([]string{job})
	if err == nil || !strings.Contains(err.Error(), "is not packed yet; first: groundsheet pack '"+job+"'") {
		t.Fatalf("a job that is not packed: %v", err)
	}
	if code := (&app{out: &lines{}, err: &lines{}}).run(t.Context(), []string{"check", job}); code != 2 {
		t.Errorf("check of a job that is not packed ends with %d, not 2", code)
	}
	for _, name := range []string{"b.mbtiles", "a.mbtiles", ".half.mbtiles", "notes.txt"} {
		if err := os.MkdirAll(filepath.Join(job, "out"), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(job, "out", name), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := packFiles([]string{plain, job, "no/such.mbtiles"})
	want := []string{plain, filepath.Join(job, "out", "a.mbtiles"), filepath.Join(job, "out", "b.mbtiles"), "no/such.mbtiles"}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("got %q, %v; want %q", got, err, want)
	}
}
