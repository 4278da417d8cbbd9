package serve

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

// racks are the slots of a server, and the folders in which more may appear.
type racks struct {
	log     *slog.Logger
	now     func() time.Time
	folders []string
	forget  func(*site) // of a version that is not served any more
	serial  uint64      // of the pack that was opened last
	slots   atomic.Pointer[shown]
	looking sync.Mutex // one look at a time
	states  atomic.Pointer[[]PackState]

	mu      sync.Mutex // guards told
	told    []func(PackState)
	stop    context.CancelFunc // nil = nobody watches
	stopped chan struct{}
}

// shown is a list of slots that is never changed, only exchanged.
type shown struct {
	all  []*slot
	byID map[string]*slot
}

func newRacks(log *slog.Logger, now func() time.Time, forget func(*site)) *racks {
	r := &racks{log: log, now: now, forget: forget}
	r.slots.Store(&shown{})
	r.states.Store(&[]PackState{})
	return r
}

// add opens what was named: files, which must be packs, and folders.
func (r *racks) add(ctx context.Context, paths []string) error {
	for _, path := range paths {
		if info, err := os.Stat(path); err == nil && info.IsDir() {
			r.folders = append(r.folders, path)
			continue
		}
		l := &slot{path: path}
		r.show(append(slices.Clone(r.slots.Load().all), l))
		p, err := pack.Open(ctx, path)
		if err != nil {
			return err
		}
		r.takeOver(l, p)
	}
	if err := r.find(); err != nil {
		return err
	}
	for _, l := range r.slots.Load().all {
		if l.folder != "" {
			r.open(ctx, l)
		}
	}
	r.tell()
	return ctx.Err()
}

// show exchanges the list of slots.
func (r *racks) show(all []*slot) {
	s := &shown{all: all, byID: map[string]*slot{}}
	for _, l := range all {
		if l.id != "" {
			s.byID[l.id] = l
		}
	}
	r.slots.Store(s)
}

// find adds a slot for each new .mbtiles file in the folders.
func (r *racks) find() error {
	all := slices.Clone(r.slots.Load().all)
	had := len(all)
	var errs []error
	for _, folder := range r.folders {
		entries, err := os.ReadDir(folder)
		if err != nil {
			errs = append(errs, fmt.Errorf("the folder of packs: %w", err))
			continue
		}
		for _, e := range entries {
			path := filepath.Join(folder, e.Name())
			known := func(l *slot) bool { return filepath.Clean(l.path) == path }
			if strings.EqualFold(filepath.Ext(path), ".mbtiles") && !strings.HasPrefix(e.Name(), ".") && !slices.ContainsFunc(all, known) {
				all = append(all, &slot{path: path, folder: folder})
			}
		}
	}
	if len(all) > had {
		r.show(all)
	}
	return errors.Join(errs...)
}

// freeID is an id that no other slot has.
func (r *racks) freeID(name string) string {
	ids := r.slots.Load().byID
	id := record.Slug(name)
	for n := 2; ids[id] != nil; n++ {
		id = fmt.Sprintf("%s-%d", record.Slug(name), n)
	}
	return id
}

// takeOver serves a pack from now on.
func (r *racks) takeOver(l *slot, p *pack.Pack) {
	if l.id == "" {
		l.id = r.freeID(p.Info.Name)
		defer func() { r.show(slices.Clone(r.slots.Load().all)) }()
	}
	l.trouble, l.refused = "", nil
	r.serial++
	r.put(l, newSite(l.id, p, r.serial, r.now()))
}

// put exchanges what a slot serves; nil for nothing.
func (r *racks) put(l *slot, p *site) {
	if old := l.put(p); old != nil {
		r.forget(old)
	}
}

// take finds a slot by its id and what it serves: nil when that is nothing.
func (r *racks) take(id string) (p *site, known bool) {
	l := r.slots.Load().byID[id]
	if l == nil {
		return nil, false
	}
	return l.take(), true
}

// served is what is served now, for looking at what the packs say of themselves;
// their files may be closed at any time.
func (r *racks) served() []*site {
	var all []*site
	for _, l := range r.slots.Load().all {
		if p := l.now.Load(); p != nil {
			all = append(all, p)
		}
	}
	return all
}

// close ends the looking and lets all packs go.
func (r *racks) close() error {
	if r.stop != nil {
		r.stop()
		<-r.stopped
	}
	r.looking.Lock()
	defer r.looking.Unlock()
	for _, l := range r.slots.Load().all {
		r.put(l, nil)
	}
	return nil
}
