package archive

import (
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"groundsheet/pack/job"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/vector"
)

// file is one file that goes into an archive.
type file struct {
	path  string // where it is
	name  string // where it goes, with slashes
	bytes int64
}

func (f file) isPack() bool {
	return path.Dir(f.name) == "out" && strings.EqualFold(path.Ext(f.name), ".mbtiles")
}

// How much a job folder may hold (the project's own choice, no source): more is
// something else than a job.
const (
	mostFiles = 20_000
	mostDepth = 16
)

// gather lists what goes into the archive of a job, by name: everything in its folder
// but hidden files, and what the job names elsewhere.
func gather(j job.Job) (all []file, elsewhere map[string]string, err error) {
	if all, err = below(j.Dir, "", nil, 0); err != nil {
		return nil, nil, err
	}
	elsewhere = map[string]string{}
	for _, name := range j.Files() {
		if filepath.IsLocal(name) || elsewhere[name] != "" {
			continue
		}
		at := name
		if !filepath.IsAbs(at) {
			at = filepath.Join(j.Dir, at)
		}
		kept := fmt.Sprintf("elsewhere/%d/%s", len(elsewhere)+1, filepath.Base(at))
		if all, err = add(all, at, kept); err != nil {
			return nil, nil, err
		}
		elsewhere[name] = kept
		ending := filepath.Ext(at)
		for _, side := range vector.SideFiles(strings.ToLower(ending)) {
			bare, keptBare := strings.TrimSuffix(at, ending), strings.TrimSuffix(kept, ending)
			if _, err := os.Stat(bare + side); err != nil {
				continue // not every side file is there
			}
			if all, err = add(all, bare+side, keptBare+side); err != nil {
				return nil, nil, err
			}
		}
	}
	slices.SortFunc(all, func(a, b file) int { return strings.Compare(a.name, b.name) })
	return all, elsewhere, nil
}

// below adds all files below a folder of the job.
func below(dir, name string, all []file, depth int) ([]file, error) {
	entries, err := os.ReadDir(filepath.Join(dir, filepath.FromSlash(name)))
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		inner := path.Join(name, e.Name())
		if strings.HasPrefix(e.Name(), ".") || name == "" && slices.Contains([]string{AboutName, ListName, howName, termsName}, e.Name()) {
			continue // the lock, what a killed run left; or what another archive said of itself
		}
		at := filepath.Join(dir, filepath.FromSlash(inner))
		info, err := os.Stat(at) // of what a link leads to
		switch {
		case err != nil:
			return nil, err
		case len(all) >= mostFiles || depth >= mostDepth:
			return nil, &fault.Fault{Kind: job.Invalid, Place: at, Detail: "the job folder holds more than a job: too many files, or folders in folders",
				Remedy: "take out of it what is not of the job"}
		case info.IsDir():
			all, err = below(dir, inner, all, depth+1)
		default:
			all, err = add(all, at, inner)
		}
		if err != nil {
			return nil, err
		}
	}
	return all, nil
}

func add(all []file, at, name string) ([]file, error) {
	info, err := os.Stat(at)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() || strings.ContainsAny(name, "\n\r\\") || !fs.ValidPath(name) {
		return nil, &fault.Fault{Kind: job.Invalid, Place: at, Detail: "is no file that can be archived under its name",
			Remedy: "take it out of the job folder, or rename it"}
	}
	return append(all, file{at, name, info.Size()}), nil
}
