package durable

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

func TestWriteReplaces(t *testing.T) {
	path := filepath.Join(t.TempDir(), "job.toml")
	for _, text := range []string{"one", "another"} {
		if err := Write(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if got, err := os.ReadFile(path); err != nil || string(got) != text {
			t.Errorf("%q, %v; want %q", got, err, text)
		}
	}
	if left, _ := os.ReadDir(filepath.Dir(path)); len(left) != 1 {
		t.Errorf("left beside it: %v", left)
	}
}

func TestWriteKeepsPermissions(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("permissions are the folder's there")
	}
	path := filepath.Join(t.TempDir(), "codes")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := Write(path, []byte("secret"), 0o644); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v; want the permissions it had", info.Mode(), err)
	}
}

// What cannot be written changes nothing.
func TestWriteRefused(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "taken")
	if err := os.MkdirAll(filepath.Join(path, "by a folder"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := Write(path, []byte("x"), 0o644); err == nil {
		t.Error("a folder was replaced")
	}
	if left, _ := os.ReadDir(dir); len(left) != 1 || strings.HasSuffix(left[0].Name(), ".part") {
		t.Errorf("left: %v", left)
	}
	if err := Write(filepath.Join(dir, "none", "file"), nil, 0o644); err == nil {
		t.Error("a file was made in a folder that is not there")
	}
}
