// Package archive keeps a job as it was served: one folder with everything of the job
// folder, what the sources' terms were, which program made it, and a list with the
// SHA-256 of every file. It has the form of a job folder, so what reads a job's packs
// reads those of its archive, and the list is one that sha256sum reads too.
package archive

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"groundsheet/pack/job"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// Files of an archive that no job folder has.
const (
	AboutName = "archive.json" // [About]
	ListName  = "SHA256SUMS"   // the hash of every file but itself
	termsName = "terms.toml"   // the sources' terms
	howName   = "ARCHIVE.txt"  // how to open it, for whoever finds it
)

// Exists is the kind of fault of a name that something else has.
var Exists = fault.Input("archive exists")

// Options of [Make]. The zero value is fine but for Program and Sources.
type Options struct {
	Program  string          // which program, and its version
	Sources  []source.Source // of the job's base maps, with their terms as they are now
	Keeping  store.Keeping   // as it is stated; the zero value states nothing
	Now      time.Time
	Progress func(done, total int64) // bytes; nil = silent

	// Ready is called when everything is written and proved, before the archive has its
	// name: an error leaves none. nil = nothing to do.
	Ready func() error
}

// About is what an archive says of itself.
type About struct {
	Layout    int        `json:"layout"` // 1
	Program   string     `json:"program"`
	Made      time.Time  `json:"made"`
	Name      string     `json:"name"`
	Number    string     `json:"number"`
	KeepUntil string     `json:"keep_until,omitempty"` // the last day on which it is to be kept, at least
	Why       string     `json:"why,omitempty"`
	Packs     []PackLine `json:"packs"`
	Books     []BookLine `json:"books"`
	// files that the job names outside of its folder, by the name that the job has for them
	Elsewhere map[string]string `json:"elsewhere"`
	Added     []string          `json:"added"` // made for the archive: no file of the job folder
}

// PackLine is a pack of an archive, as it was checked there.
type PackLine struct {
	File    string `json:"file"`
	Seal    string `json:"seal"`
	Verdict string `json:"verdict"`
}

// BookLine is a field book of an archive, as it was proved there.
type BookLine struct {
	File    string   `json:"file"`
	Entries int      `json:"entries"`
	Photos  int      `json:"photos"`
	Last    string   `json:"last_hash"` // of its chain
	Faults  []string `json:"faults"`
}

// Made is an archive that is there.
type Made struct {
	Folder string `json:"folder"`
	About
	Files int    `json:"files"`
	Bytes int64  `json:"bytes"`
	List  string `json:"list_sha256"` // of the list: it stands for the whole archive
	Old   bool   `json:"was_there"`   // the same was archived there before; nothing was written
}

// Make archives the job in dir as a new folder. It is written under another name, put
// on the disk, read back file by file and checked; only then it has its name. An archive
// is never written over: one that holds the same is left as it is, anything else is
// refused. Errors are of the kind [Exists], [job.Locked], [pack.NotWritten] or of the
// job.
func Make(ctx context.Context, dir, folder string, o Options) (m Made, err error) {
	unlock, err := job.Lock(dir, "groundsheet archive")
	if err != nil {
		return m, err
	}
	defer func() {
		if done := unlock(); err == nil {
			err = done
		}
	}()
	j, err := job.Read(dir)
	if err != nil {
		return m, err
	}
	if folder, err = beside(dir, folder); err != nil {
		return m, err
	}
	from, elsewhere, err := gather(j)
	if err != nil {
		return m, err
	}
	if _, err := os.Lstat(folder); err == nil {
		return same(ctx, folder, from)
	}
	if !slices.ContainsFunc(from, file.isPack) {
		return m, &fault.Fault{Kind: job.Invalid, Place: dir, Detail: "the job is not packed yet: there is nothing that was served",
			Remedy: "first: groundsheet pack"}
	}
	w := writing{ctx: ctx, part: filepath.Join(filepath.Dir(folder), "."+filepath.Base(folder)+".part"), options: o}
	m = Made{Folder: folder, About: About{Layout: 1, Program: o.Program, Made: o.Now.UTC().Truncate(time.Second), Name: j.Name, Number: j.Number,
		KeepUntil: o.Keeping.Until, Why: o.Keeping.Reason, Packs: []PackLine{}, Books: []BookLine{}, Elsewhere: elsewhere, Added: []string{}}}
	if err = w.run(from, &m); err == nil && o.Ready != nil {
		err = o.Ready()
	}
	if err == nil {
		err = named(w.part, folder)
	}
	if err != nil {
		_ = os.RemoveAll(w.part) // the first error is the one to tell
	}
	return m, err
}

// beside gives the whole path of an archive, and refuses one in its job's folder.
func beside(dir, folder string) (string, error) {
	abs, err := filepath.Abs(folder)
	if err != nil {
		return "", err
	}
	home, err := filepath.Abs(dir)
	if err != nil {
		return "", err
	}
	if abs == home || strings.HasPrefix(abs, home+string(filepath.Separator)) {
		return "", &fault.Fault{Kind: job.Invalid, Place: folder, Detail: "lies in the job folder itself", Remedy: "name a folder elsewhere with -o"}
	}
	if info, err := os.Stat(filepath.Dir(abs)); err != nil || !info.IsDir() {
		return "", &fault.Fault{Kind: job.Invalid, Place: filepath.Dir(abs), Detail: "there is no such folder", Remedy: "make it, or name another with -o"}
	}
	return abs, nil
}

// termsText is the sources as they are stated, in the form of sources.toml.
func termsText(all []source.Source, day time.Time) []byte {
	var b strings.Builder
	fmt.Fprintf(&b, "# The sources of the job's base maps with their terms, as they were stated on %s.\n", day.Format(time.DateOnly))
	for _, s := range all {
		b.WriteString("\n" + s.Redact(s.Text(nil)))
	}
	return []byte(b.String())
}

const how = `This folder keeps a job as it was served. Nothing in it is to be changed.

  groundsheet archive --verify .    proves every file by the list SHA256SUMS
  sha256sum -c SHA256SUMS           the same without groundsheet
  groundsheet check .               proves the packs in out/
  groundsheet serve .               shows them in a browser, as the crew saw them

terms.toml has the sources with their terms as they were then; archive.json says when and
by which program this was made, and where the files went that the job names elsewhere.
out/*.mbtiles (MBTiles 1.3) and *.fieldbook are SQLite files: other programs read them.
What it shows are records. It does not say what lies in the ground today.
`
