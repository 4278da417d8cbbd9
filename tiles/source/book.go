package source

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"groundsheet/tiles/tomlline"
)

// Config holds the sources an operator states. The zero value knows only the
// practice source.
type Config struct{ sources map[string]Source }

// Fault is one thing wrong in a sources file.
type Fault struct {
	File   string // as named by the caller
	Line   int    // from 1, of the key, or of its table where it is missing; 0 when the file as a whole is meant
	Source string // heading; "" when the file as a whole is meant
	Key    string // key below the heading, such as "terms.connections"; "" when the source as a whole is meant
	Detail string
}

// Error gives file, line, source and key before the detail.
func (f *Fault) Error() string {
	where := f.File
	if f.Line > 0 {
		where += fmt.Sprintf(", line %d", f.Line)
	}
	switch {
	case f.Source != "" && f.Key != "":
		where += fmt.Sprintf(", source %q, %s", f.Source, f.Key)
	case f.Source != "":
		where += fmt.Sprintf(", source %q", f.Source)
	}
	return where + ": " + f.Detail
}

// Unknown says that no source has a name.
type Unknown struct {
	Name  string
	Known []string
}

// Error lists the known names.
func (u *Unknown) Error() string {
	return fmt.Sprintf("no source is named %q; known: %s; add it to sources.toml", u.Name, strings.Join(u.Known, ", "))
}

// ReadFile reads a sources file; see [Read].
func ReadFile(path string) (Config, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return Config{}, fmt.Errorf("cannot read the sources file: %w", err)
	}
	folder, err := filepath.Abs(filepath.Dir(path))
	if err != nil {
		return Config{}, fmt.Errorf("the folder of the sources file %s: %w", path, err)
	}
	return read(data, path, folder)
}

// Read reads the text of a sources file strictly; name is used in messages.
// Every fault found is reported, each a *[Fault], joined. Terms that refuse
// are no fault: see [Source.Refusal]. Paths stay as they are written; with
// [ReadFile] they are taken from the file's folder.
func Read(data []byte, name string) (Config, error) { return read(data, name, "") }

func read(data []byte, name, folder string) (Config, error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	raw := map[string]entry{}
	dec := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields()
	if err := dec.Decode(&raw); err != nil {
		return Config{}, tomlFaults(err, name, data)
	}
	keys := tomlline.Read(data)
	book := Config{sources: make(map[string]Source, len(raw))}
	var faults []error
	for _, heading := range slices.Sorted(maps.Keys(raw)) {
		s, wrong := raw[heading].source(heading)
		for _, w := range wrong {
			faults = append(faults, &Fault{File: name, Line: keys.Line(strings.TrimSuffix(heading+"."+w.key, ".")), Source: heading, Key: w.key, Detail: w.detail})
		}
		if s.File != "" && !filepath.IsAbs(s.File) {
			s.File = filepath.Join(folder, s.File)
		}
		book.sources[heading] = s
	}
	if len(faults) > 0 {
		return Config{}, errors.Join(faults...)
	}
	return book, nil
}

// tomlFaults turns what the TOML library reports into faults with places.
func tomlFaults(err error, file string, data []byte) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) {
		var faults []error
		for _, e := range strict.Errors {
			faults = append(faults, unknownKey(e, file))
		}
		return errors.Join(faults...)
	}
	var de *toml.DecodeError
	if errors.As(err, &de) {
		line, _ := de.Position()
		f := &Fault{File: file, Line: line, Detail: strings.TrimPrefix(de.Error(), "toml: ")}
		f.Source, f.Key = splitKey(de.Key())
		return f
	}
	f := &Fault{File: file, Detail: strings.TrimPrefix(err.Error(), "toml: ")}
	// A value without its quotation marks has no place.
	if key, found := tomlline.Read(data).Blamed(func(b []byte) error { return toml.Unmarshal(b, &map[string]entry{}) }); found {
		f.Line = key.Line
		f.Source, f.Key, _ = strings.Cut(key.Path, ".")
	}
	return f
}

func unknownKey(e toml.DecodeError, file string) *Fault {
	line, _ := e.Position()
	f := &Fault{File: file, Line: line}
	f.Source, f.Key = splitKey(e.Key())
	known := entryKeys
	if strings.HasPrefix(f.Key, "terms.") {
		known = termsKeys
	}
	f.Detail = "not a known key; known: " + known
	return f
}

func splitKey(key toml.Key) (source, rest string) {
	if len(key) == 0 {
		return "", ""
	}
	return key[0], strings.Join(key[1:], ".")
}

// Find is the source of a name. "practice" is always known: when the book
// does not define it, it is invented imagery for zooms 0 to 22. The error is
// an *[Unknown].
func (b Config) Find(name string) (Source, error) {
	s, ok := b.sources[name]
	switch {
	case ok:
		return s.copy(), nil
	case name == KindPractice:
		return practice(), nil
	}
	return Source{}, &Unknown{name, b.Names()}
}

// Names are the known names in order, "practice" among them.
func (b Config) Names() []string {
	names := slices.Collect(maps.Keys(b.sources))
	if _, ok := b.sources[KindPractice]; !ok {
		names = append(names, KindPractice)
	}
	slices.Sort(names)
	return names
}

// copy shares nothing with the book, so that a caller may set fields.
func (s Source) copy() Source {
	s.Subdomains, s.RedirectHosts, s.Placeholders = slices.Clone(s.Subdomains), slices.Clone(s.RedirectHosts), slices.Clone(s.Placeholders)
	if s.Bounds != nil {
		b := *s.Bounds
		s.Bounds = &b
	}
	if s.Terms != nil {
		t := *s.Terms
		s.Terms = &t
	}
	return s
}
