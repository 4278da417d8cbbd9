package store

import (
	"context"
	"errors"
	"testing"
	"time"
)

// TestTurn: a second run, with a store of its own on the same folder, waits
// for the first, and may stop waiting.
func TestTurn(t *testing.T) {
	dir := t.TempDir()
	shelf := func() *Shelf {
		s, err := Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = s.Close() })
		shelf, err := s.Shelf("town")
		if err != nil {
			t.Fatal(err)
		}
		return shelf
	}
	first, err := shelf().Turn(t.Context(), func() { t.Error("nobody is there to wait for") })
	if err != nil {
		t.Fatal(err)
	}
	short, cancel := context.WithTimeout(t.Context(), 400*time.Millisecond)
	defer cancel()
	waited := 0
	if _, err := shelf().Turn(short, func() { waited++ }); !errors.Is(err, context.DeadlineExceeded) || waited != 1 {
		t.Fatalf("two runs at once: %v, told %d times", err, waited)
	}
	time.AfterFunc(300*time.Millisecond, func() { _ = first() })
	second, err := shelf().Turn(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := second(); err != nil {
		t.Error(err)
	}
}
