package desk

import (
	"crypto/sha256"
	"fmt"
	"hash"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"groundsheet/pack/job"
)

// seen is a job folder as it is at a moment.
type seen struct {
	Dir   string
	Etag  string // of job.toml and the files it names: their names, sizes and times
	Packs []packFile
	packs string // changes with any pack
	Job   job.Job
	Err   error // why job.toml cannot be read
}

// packFile is a pack in a job's folder.
type packFile struct {
	File  string `json:"file"`
	Bytes int64  `json:"bytes"`
	Stamp string `json:"stamp"` // changes with the file
}

// reader looks at job folders; job.toml is read again only when it has changed, and so
// are the files of the jobs that were read last.
type reader struct {
	mu     sync.Mutex
	read   map[string]readJob
	inputs []readInputs // the latest is the last
}

type readInputs struct {
	dir, etag string
	inputs    job.Inputs
	err       error
}

// mostInputs is how many jobs are kept with what their files hold.
const mostInputs = 3

// inputsOf is what the files of a job hold, to be looked at and not changed.
func (r *reader) inputsOf(s seen) (job.Inputs, error) {
	if s.Err != nil {
		return job.Inputs{}, s.Err
	}
	r.mu.Lock()
	i := slices.IndexFunc(r.inputs, func(h readInputs) bool { return h.dir == s.Dir })
	if i >= 0 && r.inputs[i].etag == s.Etag {
		defer r.mu.Unlock()
		return r.inputs[i].inputs, r.inputs[i].err
	}
	r.mu.Unlock()
	now := readInputs{dir: s.Dir, etag: s.Etag}
	now.inputs, now.err = s.Job.ReadInputs()
	r.mu.Lock()
	defer r.mu.Unlock()
	r.inputs = append(slices.DeleteFunc(r.inputs, func(h readInputs) bool { return h.dir == s.Dir }), now)
	r.inputs = slices.Delete(r.inputs, 0, max(0, len(r.inputs)-mostInputs))
	return now.inputs, now.err
}

type readJob struct {
	stamp string
	sum   [32]byte
	job   job.Job
	err   error
}

func newReader() *reader { return &reader{read: map[string]readJob{}} }

// stampOf changes when a file is written: its size and time, and which file it is.
func stampOf(path string) string {
	info, err := os.Stat(path)
	if err != nil {
		return "none"
	}
	return fmt.Sprintf("%d %d", info.Size(), info.ModTime().UnixNano())
}

// look looks at a job folder.
func (r *reader) look(dir string) seen {
	s := seen{Dir: dir, Packs: []packFile{}}
	one := r.job(dir)
	s.Job, s.Err = one.job, one.err
	h := sha256.New()
	h.Write(one.sum[:])
	for _, name := range append(one.job.Files(), "sources.toml") {
		note(h, dir, name)
	}
	s.Etag = fmt.Sprintf("%x", h.Sum(nil)[:12])
	s.packs = s.findPacks()
	return s
}

func note(h hash.Hash, dir, name string) {
	path := name
	if !filepath.IsAbs(path) {
		path = filepath.Join(dir, name)
	}
	fmt.Fprintf(h, "%q %s\n", name, stampOf(path))
}

// A file that was whole a moment ago may be empty or half there while an editor writes
// it; it is read again so often, after so long, before that is told (the project's own
// choice, no source).
const (
	readAgain = 2
	halfThere = 100 * time.Millisecond
)

// job reads job.toml, or gives what was read when it has not changed since.
func (r *reader) job(dir string) readJob {
	path := filepath.Join(dir, job.FileName)
	stamp := stampOf(path)
	r.mu.Lock()
	was, has := r.read[dir]
	r.mu.Unlock()
	if has && was.stamp == stamp {
		return was
	}
	one := readOnce(path, dir)
	for range readAgain {
		if one.err == nil || !has || was.err != nil {
			break
		}
		time.Sleep(halfThere)
		one = readOnce(path, dir)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.read[dir] = one
	return one
}

func readOnce(path, dir string) readJob {
	one := readJob{stamp: stampOf(path)}
	text, err := os.ReadFile(path)
	if err == nil {
		one.sum = sha256.Sum256(text)
		one.job, err = job.Parse(text, dir)
	}
	one.err = err
	return one
}

// findPacks finds the packs of the folder; its result changes with any of them.
func (s *seen) findPacks() string {
	out := filepath.Join(s.Dir, "out")
	entries, err := os.ReadDir(out)
	if err != nil {
		return ""
	}
	var stamps strings.Builder
	for _, e := range entries {
		if !strings.EqualFold(filepath.Ext(e.Name()), ".mbtiles") || strings.HasPrefix(e.Name(), ".") || e.IsDir() {
			continue
		}
		path := filepath.Join(out, e.Name())
		info, err := e.Info()
		if err != nil {
			continue
		}
		p := packFile{File: path, Bytes: info.Size(), Stamp: stampOf(path)}
		s.Packs = append(s.Packs, p)
		fmt.Fprintf(&stamps, "%q %s\n", e.Name(), p.Stamp)
	}
	return stamps.String()
}
