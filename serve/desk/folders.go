package desk

import (
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"groundsheet/pack/job"
	"groundsheet/pack/office"
	"groundsheet/tiles/fault"
)

// folders are the job folders that the desk knows: those under its places, and those of
// this computer in the register of the office store.
type folders struct {
	office office.Office
	named  []string // places of this run
	file   string   // the user's list of places: a folder a line

	writing sync.Mutex // of file

	mu       sync.Mutex
	known    map[string]string // folder by the id of its job
	register []string          // folders of open jobs in the register, as of asked
	asked    time.Time
}

// How far below a place a job folder may lie, and how many folders are looked at.
const (
	maxDepth   = 4
	maxFolders = 50_000
)

func newFolders(o office.Office, opt Options) (*folders, error) {
	f := &folders{office: o, known: map[string]string{}}
	config := opt.Config
	if config == "" {
		dir, err := os.UserConfigDir()
		if err != nil {
			return nil, &fault.Fault{Detail: "there is no user config folder", Err: err, Remedy: "set HOME"}
		}
		config = filepath.Join(dir, "groundsheet")
	}
	f.file = filepath.Join(config, "places.txt")
	for _, name := range opt.Folders {
		abs, err := filepath.Abs(name)
		if err != nil {
			return nil, err
		}
		if info, err := os.Stat(abs); err != nil || !info.IsDir() {
			return nil, &fault.Fault{Place: name, Detail: "is no folder", Remedy: "name a folder that holds job folders"}
		}
		f.named = append(f.named, abs)
	}
	return f, nil
}

// idOf names a job for pages: it stands for the folder and says nothing of it.
func idOf(dir string) string {
	sum := sha256.Sum256([]byte(dir))
	return fmt.Sprintf("%x", sum[:8])
}

// scan looks for job folders again, and gives them by id.
func (f *folders) scan(ctx context.Context) map[string]string {
	found := map[string]string{}
	looked := 0
	for _, p := range f.list() {
		_ = filepath.WalkDir(p.Folder, func(path string, e fs.DirEntry, err error) error { // what cannot be read holds no job for us
			if err != nil || !e.IsDir() {
				return skipped(e)
			}
			rel, _ := filepath.Rel(p.Folder, path)
			depth := strings.Count(rel, string(filepath.Separator)) + 1
			if looked++; looked > maxFolders || ctx.Err() != nil {
				return fs.SkipAll
			}
			if rel != "." && (strings.HasPrefix(e.Name(), ".") || e.Name() == "node_modules") {
				return fs.SkipDir
			}
			if isJob(path) {
				found[idOf(path)] = path
				return fs.SkipDir
			}
			if rel != "." && depth >= maxDepth {
				return fs.SkipDir
			}
			return nil
		})
	}
	for _, dir := range f.registered(ctx) {
		if isJob(dir) {
			found[idOf(dir)] = dir
		}
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.known = found
	return maps.Clone(found)
}

// registerHold is how long the folders in the register are taken as they were.
const registerHold = 20 * time.Second

// registered are the folders of the open jobs of this computer in the register. A store
// that cannot be opened is told by what needs it.
func (f *folders) registered(ctx context.Context) []string {
	f.mu.Lock()
	dirs, good := f.register, !f.asked.IsZero() && time.Since(f.asked) < registerHold
	f.mu.Unlock()
	if good {
		return dirs
	}
	dirs, err := f.office.OpenFolders(ctx)
	if err != nil {
		return nil
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.register, f.asked = dirs, time.Now()
	return dirs
}

func skipped(e fs.DirEntry) error {
	if e != nil && e.IsDir() {
		return fs.SkipDir
	}
	return nil
}

// sourcesStamp changes when the operator's sources file does.
func (f *folders) sourcesStamp() string {
	path := f.office.SourcesFile
	if path == "" {
		path, _ = office.UserSources()
	}
	return stampOf(path)
}

// add makes a folder known at once, before it is found.
func (f *folders) add(dir string) (id string) {
	id = idOf(dir)
	f.mu.Lock()
	defer f.mu.Unlock()
	f.known[id] = dir
	return id
}

// find is the folder of a job that was found before.
func (f *folders) find(id string) (dir string, known bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	dir, known = f.known[id]
	return dir, known
}

// job is the folder of a job that is known.
func (d *desk) job(id string) (dir string, err error) {
	dir, known := d.folders.find(id)
	if !known {
		dir, known = d.folders.scan(context.Background())[id]
	}
	if !known {
		return "", &fault.Fault{Kind: notFound, Detail: "there is no such job here any more", Remedy: "look at the list of jobs again"}
	}
	if _, err := os.Stat(filepath.Join(dir, job.FileName)); errors.Is(err, fs.ErrNotExist) {
		return "", &fault.Fault{Kind: notFound, Place: dir, Detail: "the job folder is gone", Remedy: "look at the list of jobs again"}
	}
	return dir, nil
}

// look looks at a job by its id.
func (d *desk) look(id string) (seen, error) {
	dir, err := d.job(id)
	if err != nil {
		return seen{}, err
	}
	return d.files.look(dir), nil
}

// sorted are job folders by their path.
func sorted(known map[string]string) []string {
	return slices.SortedFunc(maps.Keys(known), func(a, b string) int { return cmp.Compare(known[a], known[b]) })
}
