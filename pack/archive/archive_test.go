package archive_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"groundsheet/pack/archive"
	"groundsheet/pack/job"
	"groundsheet/pack/office"
)

const text = `name = "Valve"
[[around]]
center = "40.5,-140.5"
radius = "60ft"
[[base]]
source = "practice"
zooms = [15, 16]
`

// packed makes a job folder with a pack.
func packed(t *testing.T) (dir, folder string) {
	t.Helper()
	at := t.TempDir()
	dir = filepath.Join(at, "site")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, job.FileName), text)
	w, err := office.Office{StoreAt: filepath.Join(at, "store")}.Open(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, err := range w.Pack(t.Context(), office.PackOptions{}) {
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return dir, filepath.Join(at, "kept")
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// names are the entries of a folder.
func names(t *testing.T, dir string) (all []string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		all = append(all, e.Name())
	}
	return all
}

func TestWhatEndsEarlyLeavesNothing(t *testing.T) {
	dir, folder := packed(t)
	no := errors.New("not now")
	stopped, stop := context.WithCancel(t.Context())
	stop()
	unlock := func() error { return nil }
	for name, c := range map[string]struct {
		ctx    context.Context
		before func() error
		o      archive.Options
		want   error
	}{
		"refused at the end": {t.Context(), nil, archive.Options{Ready: func() error { return no }}, no},
		"stopped":            {stopped, nil, archive.Options{}, context.Canceled},
		"locked": {t.Context(), func() (err error) { unlock, err = job.Lock(dir, "a test"); return err },
			archive.Options{}, job.Locked},
	} {
		t.Run(name, func(t *testing.T) {
			if c.before != nil {
				if err := c.before(); err != nil {
					t.Fatal(err)
				}
			}
			if _, err := archive.Make(c.ctx, dir, folder, c.o); !errors.Is(err, c.want) {
				t.Errorf("%v", err)
			}
			if err := unlock(); err != nil {
				t.Fatal(err)
			}
			unlock = func() error { return nil }
			if all := names(t, filepath.Dir(folder)); len(all) != 2 {
				t.Errorf("left: %v", all)
			}
		})
	}
}

func TestWhatAKilledRunLeftIsTakenAway(t *testing.T) {
	dir, folder := packed(t)
	part := filepath.Join(filepath.Dir(folder), ".kept.part")
	if err := os.Mkdir(part, 0o755); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(part, "half"), "half")
	if err := os.Symlink(filepath.Join(dir, job.FileName), filepath.Join(dir, "linked.toml")); err != nil {
		t.Fatal(err)
	}
	m, err := archive.Make(t.Context(), dir, folder, archive.Options{Now: time.Now()})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(part); !errors.Is(err, os.ErrNotExist) {
		t.Error("what the killed run left is there")
	}
	v, err := archive.Verify(t.Context(), folder, nil)
	if err != nil || !v.Sound() || v.List != m.List || v.Files != m.Files || v.Bytes != m.Bytes {
		t.Errorf("%+v, made %+v: %v", v, m, err)
	}
	linked, err := os.ReadFile(filepath.Join(folder, "linked.toml"))
	if err != nil || string(linked) != text {
		t.Errorf("what a link led to: %q, %v", linked, err)
	}
	if info, err := os.Lstat(filepath.Join(folder, "linked.toml")); err != nil || !info.Mode().IsRegular() {
		t.Error("a link was kept as a link")
	}
}
