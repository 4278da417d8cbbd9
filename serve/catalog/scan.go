package catalog

import (
	"context"
	"errors"
	"os"
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
