package handover

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"groundsheet/pack"
	"groundsheet/pack/collect"
	"groundsheet/pack/fieldbook"
	"groundsheet/pack/job"
	"groundsheet/tiles/area"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/vector"
)

// Request is a hand-over of a job as it is asked for.
type Request struct {
	Books   []string // files; none = those that were collected in the job
	Folder  string   // "" = out/handover in the job
	Within  string   // a file with the area to cut to; "" = none
	EPSG    int      // see [NewGround]
	Shift   string
	Options // Pack, Ground, Area and what is known of the job are filled in
}

// OfJob hands over what was found on the site of a job folder.
func OfJob(ctx context.Context, dir string, r Request) (s Summary, err error) {
	j, err := job.Read(dir)
	if err != nil {
		return s, err
	}
	o := r.Options
	o.Name, o.Number, o.Units, o.Invented = j.Name, j.Number, j.Units, j.Invented
	if o.Ground, err = NewGround(r.EPSG, r.Shift); err != nil {
		return s, err
	}
	if r.Within != "" {
		if err := o.within(r.Within); err != nil {
			return s, err
		}
	}
	if o.Runs, err = collect.RunNames(dir); err != nil {
		return s, err
	}
	books := r.Books
	if len(books) == 0 {
		if books, err = collected(dir); err != nil {
			return s, err
		}
	}
	if _, err := os.Stat(j.PackPath(0)); err == nil {
		if o.Pack, err = pack.Open(ctx, j.PackPath(0)); err != nil {
			return s, err
		}
		defer func() { err = errors.Join(err, o.Pack.Close()) }()
	}
	folder := r.Folder
	if folder == "" {
		folder = filepath.Join(dir, "out", "handover")
	}
	return Write(ctx, books, folder, o)
}

func (o Options) needsPack() bool {
	return o.WithRecords || o.Tiles || slices.Contains(o.Forms, Report)
}

// within reads the area to cut to.
func (o *Options) within(name string) error {
	f, err := vector.Open(name)
	if err != nil {
		return err
	}
	features, _, err := vector.Read(f, vector.Areas)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	a, err := area.Polygons(features)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if o.Area, o.AreaName = a.Outline(0), filepath.Base(name); len(o.Area) == 0 {
		return &fault.Fault{Kind: Misuse, Place: name, Detail: "it holds no outline", Remedy: "name a file with the outline to cut to"}
	}
	return nil
}

// collected are the field books of a job folder, by name.
func collected(dir string) (all []string, err error) {
	from := filepath.Join(dir, "fieldbooks")
	entries, err := os.ReadDir(from)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, err
	}
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), fieldbook.Extension) && !strings.HasPrefix(e.Name(), ".") && !e.IsDir() {
			all = append(all, filepath.Join(from, e.Name()))
		}
	}
	if len(all) == 0 {
		return nil, misuse(fmt.Sprintf("no field book was collected in %s", from), "first: groundsheet collect JOB BOOK; or name the books")
	}
	return all, nil
}
