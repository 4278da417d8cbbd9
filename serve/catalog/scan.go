package catalog

import (
	"context"
	"errors"
	"os"
	"sync/atomic"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/words"
)

// Poll scans again and again until [Catalog.Close].
func (c *Catalog[A]) Poll(every time.Duration) {
	ctx, stop := context.WithCancel(context.Background())
	c.stop = stop
	c.polling.Go(func() {
		for tick := time.Tick(every); ctx.Err() == nil; {
			select {
			case <-ctx.Done():
			case <-tick:
				c.Scan(ctx)
			}
		}
	})
}

// Scan looks once for files that were replaced, are gone or are new. A file is opened
// when two scans found it the same: then it is not being written any more.
func (c *Catalog[A]) Scan(ctx context.Context) {
	c.scanning.Lock()
	defer c.scanning.Unlock()
	if err := c.searchFolders(); err != nil {
		c.o.Log.Debug("a folder of packs cannot be read", "err", err) // the states of its packs say that they are gone
	}
	for _, m := range *c.mounts.Load() {
		if ctx.Err() != nil {
			return
		}
		c.scan(ctx, m)
	}
	c.notify()
}

// What is said of a pack whose file is not as it was.
var (
	goneServed  = words.Say("laptop.gone_served")
	goneFolder  = words.Say("laptop.gone_folder")
	goneAlready = words.Say("laptop.gone")
	changing    = words.Say("laptop.changing")
	arriving    = words.Say("laptop.arriving")
)

// scan compares the file of a mount with what is served from it.
func (c *Catalog[A]) scan(ctx context.Context, m *mount[A]) {
	file, err := os.Stat(m.path)
	if err != nil {
		c.gone(m)
		return
	}
	steady := sameFile(file, m.seen)
	m.seen = file
	p := m.current.Load()
	switch {
	case p != nil && p.File.IsFile(file):
		m.trouble, m.refused = "", nil
	case p != nil && !p.File.Replaced(file):
		// Reads may give either version from now on: serve nothing.
		c.o.Log.Warn("a pack was changed in place", "path", m.path)
		m.trouble = changing
		m.swap(nil)
	case m.refused != nil && sameFile(file, m.refused):
	case steady:
		c.open(ctx, m)
	case p == nil && m.trouble != changing:
		m.trouble = arriving
	}
}

// gone handles a path without a file. Removing a file from a folder is how a pack is
// taken off the server; one that was named itself is served on.
func (c *Catalog[A]) gone(m *mount[A]) {
	m.seen, m.refused = nil, nil
	before := m.trouble
	switch {
	case m.current.Load() == nil && m.trouble != goneFolder:
		m.trouble = goneAlready
	case m.current.Load() == nil:
	case m.folder == "":
		m.trouble = goneServed
	default:
		m.trouble = goneFolder
		m.swap(nil)
	}
	if m.trouble != before {
		c.o.Log.Warn("the file of a pack is gone", "path", m.path)
	}
}

// open opens the file of a mount and serves it when it is a pack; else what is served
// goes on.
func (c *Catalog[A]) open(ctx context.Context, m *mount[A]) {
	file, err := os.Stat(m.path)
	if err != nil {
		c.gone(m)
		return
	}
	p, err := pack.Open(ctx, m.path)
	switch {
	case ctx.Err() != nil:
	case err != nil:
		c.o.Log.Warn("a file is refused as a pack", "path", m.path, "err", err)
		m.refused, m.trouble = file, words.Say("laptop.refused", "why", reason(err))
		if m.current.Load() != nil {
			m.trouble = words.Say("laptop.refused_served", "why", reason(err))
		}
	default:
		c.serve(m, p)
	}
}

// sameFile reports whether two scans saw the same file, unchanged.
func sameFile(a, b os.FileInfo) bool {
	if a == nil || b == nil {
		return a == nil && b == nil
	}
	return os.SameFile(a, b) && a.Size() == b.Size() && a.ModTime().Equal(b.ModTime())
}

// reason is an error without the path of the pack, which is shown beside it.
func reason(err error) string {
	var f *fault.Fault
	if errors.As(err, &f) && f.Kind == pack.NotPack {
		return f.Detail + ": " + f.Remedy
	}
	return err.Error()
}

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
