package job

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"groundsheet/tiles/durable"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/vector"
)

// isDrawn reports whether a name is one that this package gives to what was drawn.
func isDrawn(base, name string) bool {
	return regexp.MustCompile(`^` + base + `(-\d+)?\.geojson$`).MatchString(name)
}

// write puts shapes into a file; old is the drawn file that they come from, or "".
func (p *drawnPlan) write(base, old string, all []Shape) (name string, err error) {
	var features []geojson.Feature
	for _, s := range all {
		f := geojson.Feature{Geometry: s.Rings, Properties: s.properties}
		if s.Kind == routeShape {
			f.Geometry = s.Line
		}
		if f.Properties == nil && s.Name != "" {
			f.Properties = map[string]any{"name": s.Name}
		}
		features = append(features, f)
	}
	var b bytes.Buffer
	if err := geojson.Write(&b, features); err != nil {
		return "", err
	}
	if name = old; old == "" || !p.reuse {
		name = p.fresh(base, ".geojson")
	}
	if old != "" && name != old {
		p.gone = append(p.gone, old)
	}
	p.files = append(p.files, file{name, b.Bytes()})
	return name, nil
}

// copy takes a file and its side files over under a name of the job's own.
func (p *drawnPlan) copy(base string, f vector.File) string {
	ending := strings.ToLower(filepath.Ext(f.Name))
	name := p.fresh(base, ending)
	p.files = append(p.files, file{name, f.Data})
	if f.Beside != nil {
		for _, side := range vector.SideFiles(ending) {
			if data, err := f.Beside(side); err == nil {
				p.files = append(p.files, file{strings.TrimSuffix(name, ending) + side, data})
			}
		}
	}
	return name
}

// fresh is a name that no file of the job folder has, nor one to be written.
func (p *drawnPlan) fresh(base, ending string) string {
	for n := 1; ; n++ {
		name := base
		if n > 1 {
			name += "-" + strconv.Itoa(n)
		}
		_, err := os.Lstat(filepath.Join(p.j.Dir, name+ending))
		planned := slices.ContainsFunc(p.files, func(f file) bool { return f.name == name+ending })
		if errors.Is(err, fs.ErrNotExist) && !planned {
			return name + ending
		}
		if n > 1000 {
			return name + ending // writing it is refused
		}
	}
}

// replace writes a file whole or not at all.
func replace(path string, data []byte) error {
	return durable.Write(path, data, 0o644)
}

// besideUnsaved finds side files as [vector.Open] does.
func besideUnsaved(files map[string][]byte, name string) func(string) ([]byte, error) {
	return func(ending string) ([]byte, error) {
		if data, is := files[strings.TrimSuffix(name, filepath.Ext(name))+ending]; is {
			return data, nil
		}
		return nil, fs.ErrNotExist
	}
}

// listOf is a list for the file; nothing at all where it is empty.
func listOf(names []string) any {
	if len(names) == 0 {
		return nil
	}
	all := []any{}
	for _, n := range names {
		all = append(all, n)
	}
	return all
}

func withProperties(now, old []Shape) []Shape {
	for i, s := range now {
		if s.Part >= 0 && s.Part < len(old) {
			now[i].properties = old[s.Part].properties
		}
	}
	return now
}
