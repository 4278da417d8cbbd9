package lockfile_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles/lockfile"
)

func TestTake(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lock")
	release, err := lockfile.Take(path, "counting")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := lockfile.Take(path, "counting too"); !errors.Is(err, lockfile.ErrHeld) || !strings.Contains(lockfile.Holder(path), "counting (") {
		t.Errorf("%v, held by %q", err, lockfile.Holder(path))
	}
	if err := release(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte("left by a run that was killed"), 0o600); err != nil {
		t.Fatal(err)
	}
	if who := lockfile.Holder(path); who != "" {
		t.Error(who)
	}
	release, err = lockfile.Take(path, "counting")
	if err != nil {
		t.Fatal(err)
	}
	if err := release(); err != nil {
		t.Fatal(err)
	}
}

func ExampleTake() {
	release, err := lockfile.Take(filepath.Join(os.TempDir(), "example.lock"), "counting")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer release()
	fmt.Println("the right is ours")
	// Output: the right is ours
}
