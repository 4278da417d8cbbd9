package folder

import (
	"syscall"
	"testing"
)

// A real full disk. Where nothing may be mounted the store's own quota, tested
// above, stands in, and the test says so.
func TestDiskFull(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=6m"); err != nil {
		t.Logf("mounting is not permitted here (%v): SQLite's quota stands in", err)
		TestQuotaFull(t)
		return
	}
	t.Cleanup(func() { syscall.Unmount(dir, 0) })
	st, s := open(t, dir)
	kept := fillUntilFull(t, s)
	holdsExactly(t, s, kept)
	st.Close()
	_, s = open(t, dir)
	holdsExactly(t, s, kept)
	if err := syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT, "size=60m"); err != nil {
		t.Fatal(err)
	}
	keep(t, s, image(20, kept, 0, 1, 20000))
	holdsExactly(t, s, kept+1)
}
