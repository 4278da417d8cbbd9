package job

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

func emptyJob(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, FileName), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	return dir
}

func TestLockSaysWhoHoldsIt(t *testing.T) {
	dir := emptyJob(t)
	unlock, err := Lock(dir, "groundsheet pack")
	if err != nil {
		t.Fatal(err)
	}
	_, err = Lock(dir, "the desk")
	if !errors.Is(err, Locked) || !strings.Contains(err.Error(), "groundsheet pack (") {
		t.Errorf("the second one is told: %v", err)
	}
	if got := Holder(dir); !strings.HasPrefix(got, "groundsheet pack (") {
		t.Errorf("Holder says %q", got)
	}
	if err := unlock(); err != nil {
		t.Fatal(err)
	}
	if got := Holder(dir); got != "" {
		t.Errorf("nobody holds it, and Holder says %q", got)
	}
	if _, err := os.Stat(filepath.Join(dir, LockName)); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the lock's file is left: %v", err)
	}
}

func TestLockWantsAJob(t *testing.T) {
	dir := t.TempDir()
	if _, err := Lock(dir, "groundsheet pack"); !errors.Is(err, Invalid) {
		t.Errorf("a folder without a job: %v", err)
	}
	if left, _ := os.ReadDir(dir); len(left) > 0 {
		t.Errorf("left: %v", left)
	}
}

// What a killed run left is no lock.
func TestLockAfterAKill(t *testing.T) {
	dir := emptyJob(t)
	if err := os.WriteFile(filepath.Join(dir, LockName), []byte("groundsheet pack (gone)\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if got := Holder(dir); got != "" {
		t.Errorf("Holder says %q", got)
	}
	unlock, err := Lock(dir, "groundsheet refresh")
	if err != nil {
		t.Fatal(err)
	}
	if err := unlock(); err != nil {
		t.Error(err)
	}
}

// Of many that try at once, one at a time has it.
func TestLockOneAtATime(t *testing.T) {
	dir := emptyJob(t)
	var mu sync.Mutex
	var all sync.WaitGroup
	inside, had := 0, 0
	for range 8 {
		all.Go(func() {
			for range 200 {
				unlock, err := Lock(dir, "test")
				if err != nil {
					continue
				}
				mu.Lock()
				if inside++; inside > 1 {
					t.Error("two have it")
				}
				had++
				mu.Unlock()
				mu.Lock()
				inside--
				mu.Unlock()
				if err := unlock(); err != nil {
					t.Error(err)
				}
			}
		})
	}
	all.Wait()
	if had == 0 {
		t.Error("nobody had it")
	}
}
