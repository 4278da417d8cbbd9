package job

import (
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"

	"groundsheet/pack/record"
	"groundsheet/tiles/tomledit"
)

// Change sets, adds or takes out one value of a job.toml: see [tomledit.Change].
type Change = tomledit.Change

// Edit makes changes in the text of a job.toml in dir; whatever they do not name stays
// as it is, to the byte. What would not be read as a job is refused: the error names
// the line of the changed text, also of a key that was not known before.
func Edit(text []byte, dir string, changes ...Change) ([]byte, error) {
	changes = slices.Clone(changes)
	for i := range changes {
		c := &changes[i]
		c.Value = withDays(lastKey.FindString(c.Path), c.Value)
		if shapeTable.MatchString(c.Path) && c.Before == "" {
			c.Before = "base"
		}
	}
	out, err := tomledit.Apply(text, changes...)
	if err != nil {
		return nil, invalid(filepath.Join(dir, FileName), err.Error(), "")
	}
	if _, err := Parse(out, dir); err != nil {
		return nil, err
	}
	return out, nil
}

var (
	lastKey    = regexp.MustCompile(`[A-Za-z_]+$`)
	shapeTable = regexp.MustCompile(`^(around|along|within|box)\b`)
	day        = regexp.MustCompile(`^\d{4}-\d\d-\d\d$`)
)

// withDays writes days as the README has them, without quotation marks.
func withDays(key string, v any) any {
	switch v := v.(type) {
	case string:
		if (key == "valid_until" || key == "recorded") && day.MatchString(v) && isDay(v) {
			return tomledit.Day(v)
		}
	case tomledit.Table:
		v = slices.Clone(v)
		for i := range v {
			v[i].Value = withDays(v[i].Key, v[i].Value)
		}
		return v
	case []any:
		v = slices.Clone(v)
		for i := range v {
			v[i] = withDays("", v[i])
		}
		return v
	}
	return v
}

// Rewrite makes changes in DIR/job.toml, under the folder's lock: doing says what is
// done. prepare gets the text as it is now and gives the changes; whatever it refuses
// leaves everything as it is. The new file takes the place of the old one in one step.
func Rewrite(dir, doing string, prepare func(text []byte) ([]Change, error)) error {
	return rewrite(dir, doing, func(text []byte) ([]Change, []file, []string, error) {
		changes, err := prepare(text)
		return changes, nil, nil, err
	})
}

// Rewriting is what changes in a job folder: values of job.toml, files that it names or is
// to name, and files that it names no longer, all by their names in the folder.
type Rewriting struct {
	Changes []Change
	Files   map[string][]byte
	Gone    []string
}

// RewriteFiles is [Rewrite] that writes files too, before job.toml names them, and takes
// away those that it names no longer, after that.
func RewriteFiles(dir, doing string, prepare func(text []byte) (Rewriting, error)) error {
	return rewrite(dir, doing, func(text []byte) ([]Change, []file, []string, error) {
		r, err := prepare(text)
		var files []file
		for _, name := range slices.Sorted(maps.Keys(r.Files)) {
			files = append(files, file{name, r.Files[name]})
		}
		return r.Changes, files, r.Gone, err
	})
}

// OverlayChange adds an [[overlay]] to job.toml.
func OverlayChange(m record.Meta) Change { return Change{Path: "overlay[]", Value: overlayTable(m)} }

// rewrite writes files too, and takes those away that the job names no longer.
func rewrite(dir, doing string, prepare func(text []byte) (changes []Change, files []file, gone []string, err error)) error {
	return rewriteText(dir, doing, func(old []byte) ([]byte, []file, []string, error) {
		changes, files, gone, err := prepare(old)
		if err != nil {
			return nil, nil, nil, err
		}
		text, err := Edit(old, dir, changes...)
		return text, files, gone, err
	})
}

// rewriteText writes files before the job names them, and takes those away that it
// names no longer, after that: a kill leaves the old job or the new one.
func rewriteText(dir, doing string, prepare func(old []byte) (text []byte, files []file, gone []string, err error)) (err error) {
	unlock, err := Lock(dir, doing)
	if err != nil {
		return err
	}
	defer func() {
		if done := unlock(); err == nil {
			err = done
		}
	}()
	path := filepath.Join(dir, FileName)
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	old, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	text, files, gone, err := prepare(old)
	if err != nil {
		return err
	}
	for _, f := range files {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, f.name)), 0o755); err != nil {
			return err
		}
		if err := replace(filepath.Join(dir, f.name), f.data); err != nil {
			return err
		}
	}
	if string(text) == string(old) {
		return nil
	}
	if err := replace(path, text); err != nil {
		return err
	}
	for _, name := range gone {
		_ = os.Remove(filepath.Join(dir, name)) // nothing names it any more
	}
	return nil
}
