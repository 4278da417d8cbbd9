package archive

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/brief"
	"groundsheet/pack/check"
	"groundsheet/pack/fieldbook"
	"groundsheet/tiles/durable"
	"groundsheet/tiles/fault"
)

// writing is one archive at work.
type writing struct {
	ctx         context.Context
	part        string
	options     Options
	done, total int64
	list        []Line
}

func (w *writing) run(from []file, m *Made) error {
	if err := os.RemoveAll(w.part); err != nil { // of a run that was killed: this one has the job's lock
		return err
	}
	for _, f := range from {
		w.total += 2 * f.bytes
	}
	if err := os.Mkdir(w.part, 0o755); err != nil {
		return &fault.Fault{Kind: pack.NotWritten, Place: filepath.Dir(w.part), Detail: "no folder can be made there", Err: err,
			Remedy: "look at the disk and its permissions, or name another folder with -o"}
	}
	for _, f := range from {
		if err := w.copy(f); err != nil {
			return err
		}
	}
	if err := errors.Join(w.packs(from, m), w.books(from, m)); err != nil {
		return err
	}
	m.Added = append(m.Added, howName, termsName, AboutName)
	about, err := json.MarshalIndent(m.About, "", "  ")
	if err != nil {
		return err
	}
	if err := errors.Join(w.write(howName, []byte(how)), w.write(termsName, termsText(w.options.Sources, w.options.Now)),
		w.write(AboutName, append(about, '\n'))); err != nil {
		return err
	}
	slices.SortFunc(w.list, func(a, b Line) int { return strings.Compare(a.File, b.File) })
	var list bytes.Buffer
	for _, l := range w.list {
		fmt.Fprintln(&list, l)
		m.Bytes += l.bytes
	}
	m.Files, m.List = len(w.list), sumOf(list.Bytes())
	return errors.Join(os.WriteFile(filepath.Join(w.part, ListName), list.Bytes(), 0o644), durable.SyncTree(w.part))
}

func (w *writing) copy(f file) error {
	to := filepath.Join(w.part, filepath.FromSlash(f.name))
	if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
		return err
	}
	before := w.done
	take := func() error {
		sum, bytes, err := pack.CopyFile(w.ctx, f.path, to, func(done, _ int64) {
			if w.done = before + done; w.options.Progress != nil {
				w.options.Progress(w.done, max(w.total, w.done))
			}
		})
		w.list = append(w.list, Line{sum, f.name, bytes})
		return err
	}
	if filepath.Ext(f.name) != fieldbook.Extension {
		return take()
	}
	b, err := fieldbook.Read(f.path)
	if err != nil { // it is evidence all the same
		return take()
	}
	return errors.Join(fieldbook.Hold(w.ctx, b, func(string) error { return take() }), b.Close()) // as it is, also one that was cut off
}

// books proves each field book that was copied.
func (w *writing) books(from []file, m *Made) error {
	for _, f := range from {
		if filepath.Ext(f.name) != fieldbook.Extension {
			continue
		}
		line := BookLine{File: f.name, Faults: []string{}}
		b, err := fieldbook.Read(filepath.Join(w.part, filepath.FromSlash(f.name)))
		if err != nil {
			line.Faults = append(line.Faults, err.Error())
			m.Books = append(m.Books, line)
			continue
		}
		v, err := b.Verify(w.ctx)
		if err = errors.Join(err, b.Close()); err != nil {
			return err
		}
		line.Entries, line.Photos, line.Last, line.Faults = v.Entries, v.Photos, v.Last, append(line.Faults, v.Faults...)
		m.Books = append(m.Books, line)
	}
	return nil
}

// packs checks each pack that was copied, and prints those of which there is no brief.
func (w *writing) packs(from []file, m *Made) error {
	for _, f := range from {
		if !f.isPack() {
			continue
		}
		at := filepath.Join(w.part, filepath.FromSlash(f.name))
		r, err := check.Run(w.ctx, at, check.Options{Now: func() time.Time { return w.options.Now }})
		if err != nil {
			return err
		}
		m.Packs = append(m.Packs, PackLine{f.name, r.Seal, r.Verdict})
		bare := strings.TrimSuffix(f.name, filepath.Ext(f.name))
		if slices.ContainsFunc(from, func(o file) bool { return o.name == bare+".pdf" || o.name == bare+".html" }) {
			continue
		}
		if _, err := brief.Save(w.ctx, at, "", brief.Options{}); err != nil {
			return err
		}
		for _, ending := range []string{".pdf", ".html"} {
			l, err := lineOf(w.ctx, w.part, bare+ending)
			if err != nil {
				return err
			}
			w.list, m.Added = append(w.list, l), append(m.Added, l.File)
		}
	}
	return nil
}

func (w *writing) write(name string, data []byte) error {
	w.list = append(w.list, Line{sumOf(data), name, int64(len(data))})
	return os.WriteFile(filepath.Join(w.part, name), data, 0o644)
}

// named gives the archive its name, which nothing has.
func named(part, folder string) error {
	if _, err := os.Lstat(folder); !errors.Is(err, fs.ErrNotExist) {
		return errors.Join(err, taken(folder, "something came there meanwhile"))
	}
	return durable.Rename(part, folder)
}
