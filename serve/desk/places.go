package desk

import (
	"errors"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"groundsheet/pack/job"
	"groundsheet/tiles/durable"
	"groundsheet/tiles/fault"
)

// places are the folders that hold job folders: those that were named for this run, and
// those of the user's list, a plain file.
type places struct{ d *desk }

func (s *places) routes(d *desk) {
	d.post("/api/places", s.set)
	d.get("/api/folders", s.browse)
}

// place is a folder that holds job folders.
type place struct {
	Folder string `json:"folder"`
	Listed bool   `json:"listed"` // in the user's list, else named for this run
	Gone   bool   `json:"gone"`   // it is not there
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

// set puts a folder into the user's list or takes it out. The rest of the file stays as
// it is.
func (s *places) set(r *http.Request) (any, error) {
	var in struct {
		Folder string `json:"folder"`
		Listed bool   `json:"listed"`
	}
	if err := readJSON(r, &in); err != nil {
		return nil, err
	}
	f := s.d.folders
	dir, err := wholeFolder(in.Folder)
	if err != nil && in.Listed {
		return nil, err
	}
	if dir == "" {
		dir = filepath.Clean(in.Folder)
	}
	f.writing.Lock()
	defer f.writing.Unlock()
	text, err := os.ReadFile(f.file)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	if err := os.MkdirAll(filepath.Dir(f.file), 0o700); err != nil {
		return nil, err
	}
	if err := durable.Write(f.file, []byte(listing(string(text), dir, in.Listed)), 0o600); err != nil {
		return nil, err
	}
	s.d.publish("jobs", nil)
	return map[string]any{"places": f.list()}, nil
}

// listing is the text of the list with a folder in it, or without.
func listing(text, dir string, listed bool) string {
	var lines []string
	for line := range strings.Lines(text) {
		if filepath.Clean(strings.TrimSpace(line)) != dir {
			lines = append(lines, line)
		} else if listed {
			return text
		}
	}
	if listed {
		if n := len(lines); n > 0 && !strings.HasSuffix(lines[n-1], "\n") {
			lines[n-1] += "\n"
		}
		lines = append(lines, dir+"\n")
	}
	return strings.Join(lines, "")
}

// wholeFolder is the path of a folder that is there.
func wholeFolder(name string) (string, error) {
	dir := filepath.Clean(strings.TrimSpace(name))
	if home, err := os.UserHomeDir(); err == nil && (dir == "~" || strings.HasPrefix(dir, "~"+string(filepath.Separator))) {
		dir = home + dir[1:]
	}
	if !filepath.IsAbs(dir) {
		return "", &fault.Fault{Place: name, Detail: "is no whole path", Remedy: "write it from the root, such as /home/ada/jobs, or from ~"}
	}
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		return "", &fault.Fault{Place: name, Detail: "is no folder", Remedy: "name a folder that is there"}
	}
	return dir, nil
}

// browseDocument is what is in a folder, to choose one.
type browseDocument struct {
	Folder  string      `json:"folder"`
	Parent  string      `json:"parent"` // "" = it is the root
	Folders []subfolder `json:"folders"`
	Job     bool        `json:"job"` // it is a job folder itself
}

type subfolder struct {
	Name   string `json:"name"`
	Folder string `json:"folder"`
	Job    bool   `json:"job"`
}

// mostShown is how many folders are shown of one.
const mostShown = 2000

// browse lists the folders in a folder; without a name those of the user's home.
func (s *places) browse(r *http.Request) (any, error) {
	name := r.URL.Query().Get("in")
	if name == "" {
		name = "~"
	}
	dir, err := wholeFolder(name)
	if err != nil {
		return nil, err
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, &fault.Fault{Kind: unreadableFolder, Place: dir, Err: err, Remedy: "choose another folder"}
	}
	doc := browseDocument{Folder: dir, Folders: []subfolder{}, Job: isJob(dir)}
	if parent := filepath.Dir(dir); parent != dir {
		doc.Parent = parent
	}
	for _, e := range entries {
		if !e.IsDir() || strings.HasPrefix(e.Name(), ".") || len(doc.Folders) == mostShown {
			continue
		}
		path := filepath.Join(dir, e.Name())
		doc.Folders = append(doc.Folders, subfolder{e.Name(), path, isJob(path)})
	}
	return doc, nil
}

var unreadableFolder = fault.Outside("unreadable folder")

func isJob(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, job.FileName))
	return err == nil
}
