package pack

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles"
)

// onePack writes a pack of one tile for a job, and pads the file behind its end.
func onePack(t *testing.T, name string, padding int) string {
	t.Helper()
	h := held{}
	id := tiles.ID{Z: 11, X: 327, Y: 791}
	h.put(id, flat(t, 10, "png"), "png")
	c := content(h, tiles.NewCover(11, []tiles.Span{{Row: 791, First: 327, Last: 327}}))
	c.About.Name = name
	path := filepath.Join(t.TempDir(), "site.mbtiles")
	if _, err := Write(t.Context(), path, c, WriteOptions{}); err != nil {
		t.Fatal(err)
	}
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	_, err = f.Write(bytes.Repeat([]byte("groundsheet "), padding/12))
	if err := errors.Join(err, f.Close()); err != nil {
		t.Fatal(err)
	}
	return path
}

func sameFiles(t *testing.T, a, b string) bool {
	t.Helper()
	one, err := os.ReadFile(a)
	other, err2 := os.ReadFile(b)
	if err := errors.Join(err, err2); err != nil {
		t.Fatal(err)
	}
	return bytes.Equal(one, other)
}

func names(t *testing.T, folder string) (all []string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		all = append(all, e.Name())
	}
	return all
}

func TestCopy(t *testing.T) {
	path, stick := onePack(t, "Valve 12", 3<<20), t.TempDir()
	var last, total int64
	for _, replaced := range []bool{false, true} {
		c, err := Copy(t.Context(), path, stick, func(done, all int64) { last, total = done, all })
		if err != nil || c.Replaced != replaced || len(c.SHA256) != 64 || len(c.Seal) != 9 || !sameFiles(t, path, c.File) || last != total || total != 2*c.Bytes {
			t.Fatalf("%+v, %d of %d, %v", c, last, total, err)
		}
	}
	if all := names(t, stick); len(all) != 1 {
		t.Errorf("%v", all)
	}
	if _, err := Copy(t.Context(), path, filepath.Dir(path), nil); err == nil || !strings.Contains(err.Error(), "the pack itself") {
		t.Errorf("%v", err)
	}
	if _, err := Copy(t.Context(), path, filepath.Join(stick, "none"), nil); err == nil || !strings.Contains(err.Error(), "no such folder") {
		t.Errorf("%v", err)
	}
	another := onePack(t, "Valve 13", 0)
	if _, err := Copy(t.Context(), another, stick, nil); err == nil || !strings.Contains(err.Error(), `another job ("Valve 12")`) {
		t.Errorf("%v", err)
	}
	text := filepath.Join(stick, "site.mbtiles")
	if err := os.WriteFile(text, []byte("notes"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Copy(t.Context(), path, stick, nil); err == nil || !strings.Contains(err.Error(), "no copy of this job's pack") {
		t.Errorf("%v", err)
	}
	ctx, stop := context.WithCancel(t.Context())
	if err := os.Remove(text); err != nil {
		t.Fatal(err)
	}
	if _, err := Copy(ctx, path, stick, func(done, _ int64) { stop() }); !errors.Is(err, context.Canceled) || len(names(t, stick)) != 0 {
		t.Errorf("%v, %v", err, names(t, stick))
	}
	if err := roomFor(stick, 1<<60); err == nil || !strings.Contains(err.Error(), "room for") {
		t.Errorf("%v", err)
	}
}

// TestCopyForKilling is the process that [TestCopyKilled] kills.
func TestCopyForKilling(t *testing.T) {
	path, stick := os.Getenv("COPY_TEST_PACK"), os.Getenv("COPY_TEST_STICK")
	if path == "" {
		t.Skip("it is run by TestCopyKilled")
	}
	for range 1000 {
		if _, err := Copy(t.Context(), path, stick, nil); err != nil {
			t.Fatal(err)
		}
		fmt.Println("copied")
	}
}

// TestCopyKilled: a process that is killed while it copies leaves the whole file under
// its name or none; the next copy takes away what is left beside it.
func TestCopyKilled(t *testing.T) {
	path, stick := onePack(t, "Valve 12", 24<<20), t.TempDir()
	left := 0
	for range 8 {
		child := exec.Command(os.Args[0], "-test.run=^TestCopyForKilling$")
		child.Env = append(os.Environ(), "COPY_TEST_PACK="+path, "COPY_TEST_STICK="+stick)
		if err := child.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(40+rand.IntN(160)) * time.Millisecond)
		_ = child.Process.Kill()
		_ = child.Wait()
		for _, name := range names(t, stick) {
			if name != "site.mbtiles" {
				left++
			} else if !sameFiles(t, path, filepath.Join(stick, name)) {
				t.Fatal("half a copy has the name")
			}
		}
	}
	if _, err := Copy(t.Context(), path, stick, nil); err != nil || len(names(t, stick)) != 1 {
		t.Errorf("%v, %v", err, names(t, stick))
	}
	if left == 0 {
		t.Error("no process was killed while it copied: the test did not test")
	}
}
