package job

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/pack/record/intake"
	"groundsheet/tiles/tomledit"
	"groundsheet/tiles/vector"
)

// Site is what is known of the job for a file of records that is to be taken in.
func (j Job) Site(now time.Time) (intake.Site, error) {
	a, _, err := j.ReadArea()
	if err != nil {
		return intake.Site{}, err
	}
	b := a.Bounds()
	s := intake.Site{Ground: orb.Bound{Min: orb.Point{b.West, b.South}, Max: orb.Point{b.East, b.North}},
		Units: j.Units, Expected: j.Expected, Now: now}
	for _, o := range j.Overlays {
		s.Recorded = append(s.Recorded, o.Utility)
	}
	return s, nil
}

// AddOverlay copies a file of records into the overlays of a job folder and names it
// at the end of job.toml, with remarks behind keys: from what a value is known. The
// file is read as it will be before anything is written. It gives the copy's name.
func AddOverlay(dir, doing string, f vector.File, m record.Meta, remarks map[string]string) (name string, err error) {
	if _, _, err := intake.Read(f, m, "1"); err != nil {
		return "", err
	}
	err = rewriteText(dir, doing, func(old []byte) ([]byte, []file, []string, error) {
		j, err := Parse(old, dir)
		if err != nil {
			return nil, nil, nil, err
		}
		files, err := j.freeCopies(f, m)
		if err != nil {
			return nil, nil, nil, err
		}
		m.File = files[0].name
		name = m.File
		text, err := Edit(old, dir, Change{Path: "overlay[]", Value: overlayTable(m)})
		return withRemarks(text, remarks), files, nil, err
	})
	return name, err
}

// RemoveOverlay takes overlay n, from 1, out of job.toml, and gives the name of its
// file, which stays in the folder: what was handed over is evidence.
func RemoveOverlay(dir, doing string, n int) (name string, err error) {
	err = Rewrite(dir, doing, func(text []byte) ([]Change, error) {
		j, err := Parse(text, dir)
		if err != nil {
			return nil, err
		}
		if n < 1 || n > len(j.Overlays) {
			return nil, invalid(filepath.Join(dir, FileName), fmt.Sprintf("there is no overlay number %d", n), "look again")
		}
		name = j.Overlays[n-1].File
		return []Change{{Path: fmt.Sprintf("overlay[%d]", n-1)}}, nil
	})
	return name, err
}

// mostCopies bounds the numbers that are tried behind a name that is taken.
const mostCopies = 1000

// freeCopies gives a handed-over file and its side files under a name that is free in
// the folder. The same file, or the same layer of it, is refused.
func (j Job) freeCopies(f vector.File, m record.Meta) ([]file, error) {
	name := m.File
	ending := path.Ext(name)
	bare := strings.TrimSuffix(name, ending)
	for i := 1; i <= mostCopies; i++ {
		try := bare
		if i > 1 {
			try = fmt.Sprintf("%s-%d", bare, i)
		}
		there, err := os.ReadFile(filepath.Join(j.Dir, filepath.FromSlash(try+ending)))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return copiesOf(f, try, ending)
		case err != nil:
			return nil, err
		case !bytes.Equal(there, f.Data):
			continue
		case slices.ContainsFunc(j.Overlays, func(o record.Meta) bool {
			return path.Clean(o.File) == try+ending && slices.Equal(o.Layers, m.Layers)
		}):
			return nil, invalid(filepath.Join(j.Dir, FileName), fmt.Sprintf("the same file is a record of the job already, as %s", try+ending),
				"take that [[overlay]] out first to read it in another way")
		default:
			return copiesOf(f, try, ending)
		}
	}
	return nil, invalid(j.Dir, "there are too many files named "+name, "rename the file")
}

// withRemarks writes remarks behind the keys of the last table of a job.toml.
func withRemarks(text []byte, remarks map[string]string) []byte {
	at := bytes.LastIndex(text, []byte("[[overlay]]"))
	if at < 0 || len(remarks) == 0 {
		return text
	}
	lines := strings.SplitAfter(string(text[at:]), "\n")
	for i, line := range lines {
		key, _, is := strings.Cut(line, "=")
		remark := remarks[strings.TrimSpace(key)]
		if !is || remark == "" {
			continue
		}
		bare := strings.TrimRight(line, "\r\n")
		lines[i] = bare + "  # " + strings.Join(strings.Fields(remark), " ") + line[len(bare):]
	}
	return append(bytes.Clone(text[:at]), strings.Join(lines, "")...)
}

// overlayTable is the [[overlay]] of a record, without what it does not state.
func overlayTable(m record.Meta) (t tomledit.Table) {
	add := func(key, value string) {
		if value != "" {
			t = append(t, tomledit.Field{Key: key, Value: value})
		}
	}
	add("file", m.File)
	add("utility", m.Utility)
	add("title", m.Title)
	add("quality_level", m.QualityLevel)
	add("recorded", m.Recorded)
	add("owner", m.Owner)
	add("record", m.Record)
	if m.Accuracy != nil {
		add("accuracy", m.Accuracy.Text(""))
	}
	t = append(t, formFields(m.Form)...)
	add("datum", m.Datum)
	add("note", m.Note)
	if m.NoHeader {
		t = append(t, tomledit.Field{Key: "no_header", Value: true})
	}
	add("decimal", m.Decimal)
	t = append(t, named("columns", m.Columns, slices.Concat(record.PlaceMeanings(), record.Meanings()))...)
	t = append(t, named("units", m.Units, record.Meanings())...)
	add("utm_zone", m.UTMZone)
	add("coordinates_in", m.CoordinatesIn)
	if len(m.LeaveOut) > 0 {
		var rows []any
		for _, l := range m.LeaveOut {
			rows = append(rows, tomledit.Table{{Key: "line", Value: l.Line}, {Key: "why", Value: l.Why}})
		}
		t = append(t, tomledit.Field{Key: "leave_out", Value: rows})
	}
	return t
}

// named is a map as a table in the order of the meanings; nothing of none.
func named(key string, values map[string]string, meanings []string) tomledit.Table {
	var inner tomledit.Table
	for _, meaning := range meanings {
		if v, there := values[meaning]; there {
			inner = append(inner, tomledit.Field{Key: meaning, Value: v})
		}
	}
	if inner == nil {
		return nil
	}
	return tomledit.Table{{Key: key, Value: inner}}
}
