//go:build outside

package serve

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/pack/fieldbook"
)

// TestOutsideFieldBookDiskFull: on a disk that is full phones are told so, nothing that was
// confirmed is lost, and with room again the same marks are taken.
func TestOutsideFieldBookDiskFull(t *testing.T) {
	folder := t.TempDir()
	mount := func(args ...string) {
		t.Helper()
		if out, err := exec.Command("mount", args...).CombinedOutput(); err != nil {
			t.Fatalf("mount: %v %s", err, out)
		}
	}
	mount("-t", "tmpfs", "-o", "size=512k", "tmpfs", folder)
	t.Cleanup(func() { _ = exec.Command("umount", folder).Run() })
	_, at := openBooks(t, makePack(t, "Site one"), Options{Fieldbooks: folder})
	confirmed, status, body := 0, 0, []byte(nil)
	for n := range 100 {
		note := strings.Repeat("x", 20_000)
		if status, _, body = ask(t, "", "POST", at+"/entries", "application/json", sent(t, markText(fmt.Sprint(n), note))); status != 200 {
			break
		}
		confirmed++
	}
	if status != 507 || !strings.Contains(string(body), "disk is full") || confirmed < 5 {
		t.Fatalf("%d confirmed, then %d %s", confirmed, status, body)
	}
	for name, want := range map[string]int{"0": 200, "9999": 507} { // a receipt needs no room
		if status, _, body = ask(t, "", "POST", at+"/entries", "application/json", sent(t, markText(name, strings.Repeat("x", 20_000)))); status != want {
			t.Errorf("%s: %d %s", name, status, body)
		}
	}
	mount("-o", "remount,size=8m", folder)
	if status, _, body = ask(t, "", "POST", at+"/entries", "application/json", sent(t, markText("9999", ""))); status != 200 {
		t.Errorf("with room: %d %s", status, body)
	}
	b, err := fieldbook.Read(filepath.Join(folder, "p.fieldbook"))
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if v, err := b.Verify(t.Context()); err != nil || !v.Whole() || v.Entries != confirmed+1 {
		t.Errorf("%d confirmed: %+v, %v", confirmed+1, v, err)
	}
}

// TestOutsideFieldBookFullFromTheStart: a disk without any room is told as one, too.
func TestOutsideFieldBookFullFromTheStart(t *testing.T) {
	folder := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=4k", "tmpfs", folder).CombinedOutput(); err != nil {
		t.Fatalf("mount: %v %s", err, out)
	}
	t.Cleanup(func() { _ = exec.Command("umount", folder).Run() })
	_, at := openBooks(t, makePack(t, "Site one"), Options{Fieldbooks: folder})
	if status, _, body := ask(t, "", "POST", at+"/entries", "application/json", sent(t, markText("1", ""))); status != 507 {
		t.Errorf("%d %s", status, body)
	}
}
