package catalog

import (
	"os"
	"sync/atomic"
	"time"

	"groundsheet/pack"
)

// mount is a path that is served. Its ID stays while the file there is replaced.
// All fields except id and current are accessed only by scans, under
// [Catalog.scanning].
type mount[A Attachment] struct {
	id      atomic.Pointer[string] // nil = no pack was opened there yet
	path    string
	folder  string                  // where the file was found; "" = it was named itself
	current atomic.Pointer[Pack[A]] // nil = nothing is served at present

	seen    os.FileInfo // the file at the latest scan; nil = there was none
	refused os.FileInfo // the file that could not be opened, so that it is not tried again
	trouble string      // why the file is not served, or not the newest; "" = nothing
}

// ID is the ID of the mount; "" = none yet.
func (m *mount[A]) ID() string {
	if id := m.id.Load(); id != nil {
		return *id
	}
	return ""
}

// Pack is one version of a pack. It is closed when its mount has dropped it and
// nobody uses it any more.
type Pack[A Attachment] struct {
	File     *pack.Pack
	ID       string    // in addresses, the same for every version of the file
	Version  string    // changes with the file
	Opened   time.Time // when this version was opened
	Attached A

	verdict atomic.Pointer[Verdict] // nil = not checked yet
	users   atomic.Int64            // callers of Acquire, and the mount; 0 = closed
}

// Release ends one use.
func (p *Pack[A]) Release() {
	if p.users.Add(-1) == 0 {
		p.Attached.Close()
		_ = p.File.Close() // it was only read
	}
}

func (c *Catalog[A]) find(id string) *mount[A] {
	for _, m := range *c.mounts.Load() {
		if id != "" && m.ID() == id {
			return m
		}
	}
	return nil
}

// Acquire gives the pack of an ID and keeps it open until [Pack.Release]. known is
// false when no pack ever had the ID; p is nil when none is served at present.
func (c *Catalog[A]) Acquire(id string) (p *Pack[A], known bool) {
	m := c.find(id)
	if m == nil {
		return nil, false
	}
	return m.acquire(), true
}

// AcquireAll gives all packs, each to be released.
func (c *Catalog[A]) AcquireAll() (all []*Pack[A]) {
	for _, m := range *c.mounts.Load() {
		if p := m.acquire(); p != nil {
			all = append(all, p)
		}
	}
	return all
}

// acquire gives what the mount serves, open until its release; nil = nothing.
func (m *mount[A]) acquire() *Pack[A] {
	for {
		p := m.current.Load()
		if p == nil {
			return nil
		}
		for n := p.users.Load(); n > 0; n = p.users.Load() {
			if p.users.CompareAndSwap(n, n+1) {
				return p
			}
		}
		// It was closed since it was loaded: by now there is another one.
	}
}

// swap replaces what the mount serves; nil = nothing.
func (m *mount[A]) swap(p *Pack[A]) {
	if old := m.current.Swap(p); old != nil {
		old.Release()
	}
}
