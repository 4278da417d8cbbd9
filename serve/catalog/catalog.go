// Package catalog holds the packs of a server: it opens files and the files of
// folders, counts who uses a pack, replaces packs whose files were replaced, and
// checks them. It knows nothing of HTTP; a server attaches to each pack what it needs.
package catalog

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/record"
)

// Attachment is what a server attaches to each version of a pack.
type Attachment interface {
	// Trouble says what use of the pack has shown to be wrong, in plain words; "" = nothing.
	Trouble() string
	// Close ends what still runs on the pack. It is called once, before the file closes.
	Close()
}

// Options of a catalog.
type Options[A Attachment] struct {
	Log    *slog.Logger
	Now    func() time.Time
	Attach func(*Pack[A]) A    // called once for each version
	Redact func(string) string // makes text fit to be shown to phones
}

// Catalog is a set of packs under their IDs. It is safe for concurrent use. Make it
// with [New], fill it with [Catalog.Add].
type Catalog[A Attachment] struct {
	o        Options[A]
	folders  []string
	mounts   atomic.Pointer[[]*mount[A]] // never changed, only replaced
	scanning sync.Mutex                  // one scan at a time
	states   atomic.Pointer[[]PackState]
	probe    probe

	mu        sync.Mutex // guards listeners
	listeners []func(PackState)
	stop      context.CancelFunc // ends the polling; nil = nothing polls
	polling   sync.WaitGroup
}

// New makes an empty catalog.
func New[A Attachment](o Options[A]) *Catalog[A] {
	c := &Catalog[A]{o: o}
	c.mounts.Store(&[]*mount[A]{})
	c.states.Store(&[]PackState{})
	return c
}

// Add opens files, which must be packs, and the .mbtiles files of folders, where
// others may come later. A file of a folder that cannot be opened is no error:
// [Catalog.States] says so. The errors of a file are those of [pack.Open].
func (c *Catalog[A]) Add(ctx context.Context, paths []string) error {
	for _, path := range paths {
		if info, err := os.Stat(path); err == nil && info.IsDir() {
			c.folders = append(c.folders, path)
			continue
		}
		p, err := pack.Open(ctx, path)
		if err != nil {
			return err
		}
		m := &mount[A]{path: path}
		c.publish(append(slices.Clone(*c.mounts.Load()), m))
		c.serve(m, p)
	}
	if err := c.searchFolders(); err != nil {
		return err
	}
	for _, m := range *c.mounts.Load() {
		if m.folder != "" {
			c.open(ctx, m)
		}
	}
	c.notify()
	return ctx.Err()
}

func (c *Catalog[A]) publish(mounts []*mount[A]) { c.mounts.Store(&mounts) }

// searchFolders adds a mount for each new .mbtiles file.
func (c *Catalog[A]) searchFolders() error {
	all := slices.Clone(*c.mounts.Load())
	var errs []error
	for _, folder := range c.folders {
		entries, err := os.ReadDir(folder)
		if err != nil {
			errs = append(errs, fmt.Errorf("the folder of packs: %w", err))
		}
		for _, e := range entries {
			path := filepath.Join(folder, e.Name())
			mounted := slices.ContainsFunc(all, func(m *mount[A]) bool { return filepath.Clean(m.path) == path })
			if strings.EqualFold(filepath.Ext(path), ".mbtiles") && !strings.HasPrefix(e.Name(), ".") && !mounted {
				all = append(all, &mount[A]{path: path, folder: folder})
			}
		}
	}
	c.publish(all)
	return errors.Join(errs...)
}

// serve puts a pack in the place of what a mount serves. The first pack of a mount
// decides its ID, which stays.
func (c *Catalog[A]) serve(m *mount[A], file *pack.Pack) {
	id := c.freeID(m, file.Info.Name)
	p := &Pack[A]{File: file, ID: id, Version: file.Version(), Opened: c.o.Now()}
	p.users.Store(1)
	p.Attached = c.o.Attach(p)
	m.trouble, m.refused = "", nil
	m.swap(p)
	m.id.Store(&id)
}

// freeID is the ID of a mount: its own, or one made of a name that no other has.
func (c *Catalog[A]) freeID(m *mount[A], name string) string {
	if id := m.ID(); id != "" {
		return id
	}
	id := record.Slug(name)
	for n := 2; c.find(id) != nil; n++ {
		id = fmt.Sprintf("%s-%d", record.Slug(name), n)
	}
	return id
}

// Close ends the polling and drops all packs. Those in use close when they are
// released.
func (c *Catalog[A]) Close() error {
	if c.stop != nil {
		c.stop()
		c.polling.Wait()
	}
	c.scanning.Lock()
	defer c.scanning.Unlock()
	for _, m := range *c.mounts.Load() {
		m.swap(nil)
	}
	return nil
}
