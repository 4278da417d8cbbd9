package archive

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"groundsheet/tiles/fault"
)

// Verification is what became of the files of an archive. Lists are never null.
type Verification struct {
	Folder  string `json:"folder"`
	About   About  `json:"about"`
	List    string `json:"list_sha256"`
	Files   int    `json:"files"`
	Bytes   int64  `json:"bytes"`
	Changed []Diff `json:"changed"`
}

// Diff is a file that is not as it was.
type Diff struct {
	File string `json:"file"`
	What string `json:"what"` // "changed", "missing", "new", "cannot be read"
}

// Sound reports whether every file is as it was and none came.
func (v Verification) Sound() bool { return len(v.Changed) == 0 }

// ListNameOf is the beginning of the list's hash, as people compare it.
func (v Verification) ListNameOf() string { return short(v.List) }

// Is reports whether a folder says of itself that it is an archive; [Verify] proves it.
func Is(folder string) bool {
	_, err := os.Stat(filepath.Join(folder, AboutName))
	return err == nil
}

// Verify proves every file of an archive by its list. What changed is data; an error is
// what is no archive (kind [NotArchive]) or a stopped run. Who changes a file and its
// line in the list is found by the list's own hash alone, which was told when the
// archive was made.
func Verify(ctx context.Context, folder string, progress func(done, total int64)) (Verification, error) {
	v := Verification{Folder: folder, Changed: []Diff{}}
	lines, sum, err := readList(folder)
	if err != nil {
		return v, err
	}
	v.List, v.Files = sum, len(lines)
	for i, l := range lines {
		now, err := lineOf(ctx, folder, l.File)
		switch v.Bytes += now.bytes; {
		case ctx.Err() != nil:
			return v, ctx.Err()
		case errors.Is(err, fs.ErrNotExist):
			v.Changed = append(v.Changed, Diff{l.File, "missing"})
		case err != nil:
			v.Changed = append(v.Changed, Diff{l.File, "cannot be read"})
		case now.SHA256 != l.SHA256:
			v.Changed = append(v.Changed, Diff{l.File, "changed"})
		}
		if progress != nil {
			progress(int64(i+1), int64(len(lines)))
		}
	}
	came, err := unlisted(folder, lines)
	v.Changed = append(v.Changed, came...)
	if about, readErr := os.ReadFile(filepath.Join(folder, AboutName)); readErr == nil {
		_ = json.Unmarshal(about, &v.About) // a changed one is told above
	}
	return v, err
}

// unlisted are the files that the list does not have.
func unlisted(folder string, lines []Line) (came []Diff, err error) {
	known := map[string]bool{ListName: true}
	for _, l := range lines {
		known[l.File] = true
	}
	err = filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, err := filepath.Rel(folder, path)
		if err == nil && !known[filepath.ToSlash(name)] {
			came = append(came, Diff{filepath.ToSlash(name), "new"})
		}
		return err
	})
	return came, err
}

// same takes an archive that is there for the one to make, when it holds what the job
// folder holds now.
func same(ctx context.Context, folder string, from []file) (m Made, err error) {
	v, err := Verify(ctx, folder, nil)
	if errors.Is(err, NotArchive) {
		return m, taken(folder, "something else is there")
	}
	if err != nil {
		return m, err
	}
	differ := v.Changed
	lines, _, err := readList(folder)
	if err != nil {
		return m, err
	}
	kept := map[string]string{}
	for _, l := range lines {
		if !slices.Contains(v.About.Added, l.File) {
			kept[l.File] = l.SHA256
		}
	}
	for _, f := range from {
		now, err := lineOf(ctx, filepath.Dir(f.path), filepath.Base(f.path))
		if err != nil {
			return m, err
		}
		switch was, there := kept[f.name]; {
		case !there && !slices.Contains(v.About.Added, f.name): // a brief may have been written since
			differ = append(differ, Diff{f.name, "new in the job"})
		case there && was != now.SHA256:
			differ = append(differ, Diff{f.name, "changed in the job"})
		}
		delete(kept, f.name)
	}
	for name := range kept {
		differ = append(differ, Diff{name, "gone from the job"})
	}
	if len(differ) > 0 {
		slices.SortFunc(differ, func(a, b Diff) int { return strings.Compare(a.File, b.File) })
		return m, taken(folder, "an archive that holds something else is there: "+some(differ))
	}
	return Made{Folder: folder, About: v.About, Files: v.Files, Bytes: v.Bytes, List: v.List, Old: true}, nil
}

// mostTold is how many differences one sentence names.
const mostTold = 5

func some(all []Diff) string {
	var each []string
	for _, d := range all[:min(len(all), mostTold)] {
		each = append(each, d.File+" ("+d.What+")")
	}
	if more := len(all) - mostTold; more > 0 {
		each = append(each, fmt.Sprintf("%d more", more))
	}
	return strings.Join(each, ", ")
}

func taken(folder, what string) error {
	return &fault.Fault{Kind: Exists, Place: folder, Detail: what, Remedy: "name another folder with -o: an archive is never written over"}
}
