package desk

import (
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"

	"groundsheet/pack/collect"
	"groundsheet/pack/fieldbook"
	"groundsheet/tiles/fault"
)

// home brings field books home that were dropped on the page.
type home struct {
	d     *desk
	drops *drops
}

func (s *home) routes(d *desk) { d.post("/api/jobs/{job}/collect", s.collect) }

// collect does what groundsheet collect does, or tells what that would do.
func (s *home) collect(r *http.Request) (any, error) {
	var asked struct {
		Drops  []string `json:"drops"`
		DryRun bool     `json:"dry_run"`
	}
	if err := readJSON(r, &asked); err != nil {
		return nil, err
	}
	dir, err := s.d.job(r.PathValue("job"))
	if err != nil {
		return nil, err
	}
	if len(asked.Drops) == 0 || len(asked.Drops) > mostDrops {
		return nil, &fault.Fault{Detail: "no field book was chosen", Remedy: fmt.Sprintf("drop one to %d files that end in %s", mostDrops, fieldbook.Extension)}
	}
	temp, err := os.MkdirTemp("", "groundsheet-books-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(temp) //nolint:errcheck // what is left there is the system's to clean
	var paths []string
	for i, id := range asked.Drops {
		d, err := s.drops.find(id)
		if err != nil {
			return nil, err
		}
		path := filepath.Join(temp, fmt.Sprint(i+1), d.name)
		if err := os.Mkdir(filepath.Dir(path), 0o700); err != nil {
			return nil, err
		}
		if err := os.WriteFile(path, d.data, 0o600); err != nil {
			return nil, err
		}
		paths = append(paths, path)
	}
	report, err := collect.Run(r.Context(), dir, paths, collect.Options{DryRun: asked.DryRun, Doing: "groundsheet desk, bringing field books home"})
	var f *fault.Fault
	if errors.As(err, &f) && strings.HasPrefix(f.Place, temp) {
		f.Place = filepath.Base(f.Place)
	}
	for i := range report.Books {
		report.Books[i].File = filepath.Base(report.Books[i].File)
	}
	return report, err
}
