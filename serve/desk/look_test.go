package desk

import (
	"errors"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"groundsheet/pack/job"
)

// TestJobWhileItIsWritten: an editor that empties a file and then writes it is waited for;
// a job that stays unreadable, or was so before, is told.
func TestJobWhileItIsWritten(t *testing.T) {
	o, _ := withSources(t)
	text := strings.ReplaceAll(someJob, "practice", "town")
	dir, id := o.job("valve", text)
	path := filepath.Join(dir, job.FileName)
	write := func(text string) {
		t.Helper()
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Error(err)
		}
	}
	plan := func() (int, string) {
		status, body := o.ask("/api/draft/plan", map[string]any{"job": id})
		return status, string(body)
	}
	if status, body := plan(); status != http.StatusOK {
		t.Fatalf("%d %s", status, body)
	}
	for name, half := range map[string]string{"empty": "", "half": text[:len(text)/2] + "\n[["} {
		write(half)
		later := time.AfterFunc(halfThere/2, func() { write(text + "# " + name + "\n") })
		if status, body := plan(); status != http.StatusOK {
			t.Errorf("%s: %d %s", name, status, body)
		}
		later.Stop()
		write(text)
		if status, body := plan(); status != http.StatusOK {
			t.Errorf("%s, whole again: %d %s", name, status, body)
		}
	}
	write("")
	if status, body := plan(); status != http.StatusBadRequest || !strings.Contains(body, job.FileName) {
		t.Errorf("it stays empty: %d %s", status, body)
	}
	write("name = ")
	files := newReader()
	if began := time.Now(); !errors.Is(files.look(dir).Err, job.Invalid) || time.Since(began) > halfThere {
		t.Errorf("it never was whole, and was waited for %v: %v", time.Since(began), files.look(dir).Err)
	}
}
