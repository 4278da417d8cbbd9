// Package office is the line from a job to its packs. Its verbs are what an
// operator does: plan, sample, pack, refresh, prune, close a job, hold a pack
// against its job. It knows no terminal: progress comes as [Event] values.
//
//	w, err := office.Office{StoreAt: "store"}.Open(ctx, "site")
//	for r, err := range w.Pack(ctx, office.PackOptions{}) { … }
package office

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
	"groundsheet/tiles/store/postgres"
)

// Office is where an operator's sources and tiles are, and how they are fetched.
// The zero value uses the user's own folders.
type Office struct {
	StoreAt     string        // a folder, or the address of a database; "" = a folder in the user cache folder
	SourcesFile string        // "" = sources.toml in the job folder, else in the user config folder
	Fetch       fetch.Options // Now is the clock of all verbs; Progress, Waiting, Pausing and Trying are set here
	Progress    func(Event)   // nil = silent; see [Event]
}

func (o Office) now() time.Time {
	if o.Fetch.Now != nil {
		return o.Fetch.Now()
	}
	return time.Now()
}

// Sources reads the operator's sources file. Where there is none the
// configuration is empty, which still knows the practice source. jobDir may be "".
func (o Office) Sources(jobDir string) (source.Config, error) {
	path, err := o.SourcesPath(jobDir)
	if err != nil {
		return source.Config{}, nil // no user config folder
	}
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) && o.SourcesFile == "" {
		return source.Config{}, nil
	}
	return source.ReadFile(path)
}

// UserSources is the path of the sources file in the user config folder.
func UserSources() (string, error) {
	dir, err := os.UserConfigDir()
	return filepath.Join(dir, "groundsheet", "sources.toml"), err
}

// ChooseSource takes the named source, or the only one that the operator has.
// The practice source is taken when there is no other.
func ChooseSource(book source.Config, name string) (source.Source, error) {
	if name != "" {
		return book.Find(name)
	}
	names := slices.DeleteFunc(book.Names(), func(n string) bool { return n == source.KindPractice })
	switch len(names) {
	case 0:
		return book.Find(source.KindPractice)
	case 1:
		return book.Find(names[0])
	}
	return source.Source{}, &fault.Fault{Detail: "there are several sources: " + strings.Join(names, ", "), Remedy: "name one with --source"}
}

// storePath is where the store is. The address of a database may hold a password
// and is never shown.
func (o Office) storePath() (string, error) {
	if scheme, _, is := strings.Cut(o.StoreAt, "://"); is && !postgres.Is(o.StoreAt) {
		return "", &fault.Fault{
			Detail: fmt.Sprintf("an office store cannot be at %s://", scheme),
			Remedy: "name a folder, or a database as postgres://USER@HOST:5432/DATABASE",
		}
	}
	if o.StoreAt != "" {
		return o.StoreAt, nil
	}
	dir, err := os.UserCacheDir()
	if err != nil {
		return "", &fault.Fault{
			Detail: fmt.Sprintf("there is no user cache folder (%v)", err),
			Remedy: "name a folder with --store DIR or GROUNDSHEET_STORE",
		}
	}
	return filepath.Join(dir, "groundsheet", "store"), nil
}

// FindStore opens the store, nil when there is none yet: it makes nothing. A
// database is always there.
func (o Office) FindStore(ctx context.Context) (store.Store, error) {
	path, err := o.storePath()
	if err != nil {
		return nil, err
	}
	if !postgres.Is(path) {
		if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
			return nil, nil
		}
	}
	return o.makeStore(ctx)
}

// NeedStore opens the store and refuses when there is none yet.
func (o Office) NeedStore(ctx context.Context) (store.Store, error) {
	st, err := o.FindStore(ctx)
	if err != nil || st != nil {
		return st, err
	}
	path, err := o.storePath()
	if err != nil {
		return nil, err
	}
	return nil, &fault.Fault{Detail: "there is no office store at " + path,
		Remedy: "pack a job first, or name the store with --store"}
}

// makeStore opens the store; a folder is made when it is missing.
func (o Office) makeStore(ctx context.Context) (store.Store, error) {
	path, err := o.storePath()
	if err != nil {
		return nil, err
	}
	if postgres.Is(path) {
		s, err := postgres.Open(ctx, path, postgres.Options{})
		if err != nil {
			return nil, err // not a nil pointer in an interface
		}
		return s, nil
	}
	s, err := folder.Open(path)
	if err != nil {
		return nil, err
	}
	return s, nil
}

// SourceOf is the name of the source in a shelf's name, which ends with a
// fingerprint.
func SourceOf(shelf string) string {
	if i := strings.LastIndexByte(shelf, '-'); i > 0 {
		return shelf[:i]
	}
	return shelf
}

// ShelfSources are the sources of the operator's file and of those of the jobs of
// this computer, by the names of their shelves. A job's sources file that cannot
// be read is left out.
func (o Office) ShelfSources(jobs []store.PackedJob) (map[string]source.Source, error) {
	config, err := o.Sources("")
	if err != nil {
		return nil, err
	}
	all := []source.Config{config}
	for _, j := range jobs {
		if own, err := o.Sources(FolderOf(j.Key)); err == nil {
			all = append(all, own)
		}
	}
	shelves := map[string]source.Source{}
	for _, c := range all {
		for _, name := range c.Names() {
			if s, err := c.Find(name); err == nil {
				shelves[s.StoreName()] = s
			}
		}
	}
	return shelves, nil
}
