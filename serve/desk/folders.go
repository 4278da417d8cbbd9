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

	mu    sync.Mutex
	known map[string]string // folder by the id of its job
}

// place is a folder that holds job folders.
type place struct {
	Folder string `json:"folder"`
	Listed bool   `json:"listed"` // in the user's list, else named for this run
	Gone   bool   `json:"gone"`   // it is not there
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

// list are the places: of this run, then of the user's list.
func (f *folders) list() []place {
	all := []place{}
	for _, dir := range f.named {
		all = append(all, place{Folder: dir})
	}
	for _, dir := range f.read() {
		if !slices.Contains(f.named, dir) {
			all = append(all, place{Folder: dir, Listed: true})
		}
	}
	for i := range all {
		info, err := os.Stat(all[i].Folder)
		all[i].Gone = err != nil || !info.IsDir()
	}
	return all
}

// read reads the user's list. A line that begins with # is a remark.
func (f *folders) read() (dirs []string) {
	text, err := os.ReadFile(f.file)
	if err != nil {
		return nil
	}
	for line := range strings.Lines(string(text)) {
		if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
			dirs = append(dirs, filepath.Clean(line))
		}
	}
	return dirs
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
			if _, err := os.Stat(filepath.Join(path, job.FileName)); err == nil {
				found[idOf(path)] = path
				return fs.SkipDir
			}
			if rel != "." && depth >= maxDepth {
				return fs.SkipDir
			}
			return nil
		})
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.known = found
	return maps.Clone(found)
}

func skipped(e fs.DirEntry) error {
	if e != nil && e.IsDir() {
		return fs.SkipDir
	}
	return nil
}

// add makes a folder known at once, before it is found.
func (f *folders) add(dir string) (id string) {
	id = idOf(dir)
	f.mu.Lock()
	defer f.mu.Unlock()
	f.known[id] = dir
	return id
}

// job is the folder of a job that is known.
func (d *desk) job(id string) (dir string, err error) {
	d.folders.mu.Lock()
	dir, known := d.folders.known[id]
	d.folders.mu.Unlock()
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

// sorted are job folders by their path.
func sorted(known map[string]string) []string {
	return slices.SortedFunc(maps.Keys(known), func(a, b string) int { return cmp.Compare(known[a], known[b]) })
}
