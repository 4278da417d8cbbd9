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

	"groundsheet/tiles/fault"
	"groundsheet/tiles/tomlline"
)

// Config holds the sources an operator states. The zero value knows only the
// practice source.
type Config struct{ sources map[string]Source }

// place is where something is wrong in a sources file.
type place struct {
	file        string
	line        int    // from 1, of the key, or of its table if it is missing; 0 = the file as a whole
	source, key string // heading, and key below it such as "terms.connections"; "" = as a whole
}

func (p place) fault(detail string) error {
	where := p.file
	if p.line > 0 {
		where += fmt.Sprintf(", line %d", p.line)
	}
	if p.source != "" {
		where += fmt.Sprintf(", source %q", p.source)
	}
	if p.source != "" && p.key != "" {
		where += ", " + p.key
	}
	return &fault.Fault{Place: where, Detail: detail}
}

// Unknown is the kind of fault of a name that no source has.
var Unknown = fault.Input("unknown source")

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
// Every fault found is reported, joined. Terms that refuse
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
	out := Config{sources: make(map[string]Source, len(raw))}
	var faults []error
	for _, heading := range slices.Sorted(maps.Keys(raw)) {
		s, wrong := raw[heading].source(heading)
		for _, w := range wrong {
			line := keys.Line(strings.TrimSuffix(heading+"."+w.key, "."))
			faults = append(faults, place{name, line, heading, w.key}.fault(w.detail))
		}
		if s.File != "" && !filepath.IsAbs(s.File) {
			s.File = filepath.Join(folder, s.File)
		}
		for i, f := range s.Files {
			if !filepath.IsAbs(f) {
				s.Files[i] = filepath.Join(folder, f)
			}
		}
		for i, d := range s.Draw {
			if d.File != "" && !filepath.IsAbs(d.File) {
				s.Draw[i].File = filepath.Join(folder, d.File)
			}
		}
		out.sources[heading] = s
	}
	if len(faults) > 0 {
		return Config{}, errors.Join(faults...)
	}
	return out, nil
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
	detail := strings.TrimPrefix(err.Error(), "toml: ")
	var de *toml.DecodeError
	if errors.As(err, &de) {
		return placeOf(*de, file).fault(detail)
	}
	p := place{file: file}
	// A value without its quotation marks has no place.
	if key, found := tomlline.Read(data).FirstFailing(func(b []byte) error { return toml.Unmarshal(b, &map[string]entry{}) }); found {
		p.line = key.Line
		p.source, p.key, _ = strings.Cut(key.Path, ".")
	}
	return p.fault(detail)
}

func unknownKey(e toml.DecodeError, file string) error {
	p, known := placeOf(e, file), entryKeys
	if strings.HasPrefix(p.key, "terms.") {
		known = termsKeys
	} else if strings.HasPrefix(p.key, "draw.") {
		known = drawKeys
	}
	return p.fault("not a known key; known: " + known)
}

func placeOf(e toml.DecodeError, file string) place {
	p := place{file: file}
	p.line, _ = e.Position()
	if key := e.Key(); len(key) > 0 {
		p.source, p.key = key[0], strings.Join(key[1:], ".")
	}
	return p
}

// Find is the source of a name. "practice" is always known: if the file
// does not define it, it is invented imagery for zooms 0 to 22. The error is an
// [Unknown] fault.
func (c Config) Find(name string) (Source, error) {
	s, ok := c.sources[name]
	switch {
	case ok:
		return cloned(s), nil
	case name == KindPractice:
		return practice(), nil
	}
	return Source{}, &fault.Fault{
		Kind: Unknown, Detail: fmt.Sprintf("no source is named %q; known: %s", name, strings.Join(c.Names(), ", ")),
		Remedy: "add it to sources.toml",
	}
}

// Names are the known names in order, "practice" among them.
func (c Config) Names() []string {
	names := slices.Collect(maps.Keys(c.sources))
	if _, ok := c.sources[KindPractice]; !ok {
		names = append(names, KindPractice)
	}
	slices.Sort(names)
	return names
}

// cloned shares nothing with the config, so that a caller may set fields.
func cloned(s Source) Source {
	s.Subdomains, s.RedirectHosts, s.Placeholders = slices.Clone(s.Subdomains), slices.Clone(s.RedirectHosts),
		slices.Clone(s.Placeholders)
	s.Raster, s.Draw = s.Raster.cloned(), clonedDraws(s.Draw)
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
