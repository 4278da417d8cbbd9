package source

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
	"unicode"

	"groundsheet/tiles/durable"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
)

// Text is the source as a block of sources.toml, with remarks as comments. Terms
// that are not stated are left for the operator: the block says what is needed.
func (s Source) Text(remarks []string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "[%s]\n", s.Name)
	for _, r := range remarks {
		fmt.Fprintf(&b, "# %s\n", oneLine(r))
	}
	text := func(key, value string) {
		if value != "" {
			fmt.Fprintf(&b, "%s = %s\n", key, quoted(value))
		}
	}
	for _, line := range [][2]string{{"kind", s.Kind}, {"url", s.URL}, {"key_env", s.KeyEnv}, {"file", s.File},
		{"layer", s.Layer},
		{"style", s.Style}, {"format", s.Format}, {"matrix_set", s.MatrixSet}, {"version", s.Version}, {"crs", s.CRS}} {
		text(line[0], line[1])
	}
	b.WriteString(s.Raster.text())
	if s.Metatile > 1 {
		fmt.Fprintf(&b, "metatile = %d\n", s.Metatile)
	}
	fmt.Fprintf(&b, "zooms = [%d, %d]\ntile_size = %d\n", s.Zooms.Min, s.Zooms.Max, s.TileSize)
	if s.Bounds != nil {
		fmt.Fprintf(&b, "bounds = [%v, %v, %v, %v]\n", s.Bounds.West, s.Bounds.South, s.Bounds.East, s.Bounds.North)
	}
	if s.GroundResolution > 0 {
		fmt.Fprintf(&b, "ground_resolution = \"%.4g m\"\n", s.GroundResolution.Meters())
	}
	if s.Attribution == "" {
		b.WriteString("# attribution = \"\"           # the credit to show beside the map; the service names none\n")
	}
	text("attribution", s.Attribution)
	if s.Captured == "" && len(s.Draw) > 0 {
		b.WriteString("# captured = \"\"              # of when the files are; unknown stays unknown\n")
	} else if s.Captured == "" {
		b.WriteString("# captured = \"\"              # when the imagery was taken; unknown stays unknown\n")
	}
	text("captured", s.Captured)
	for _, d := range s.Draw {
		b.WriteString(d.text(s.Name))
	}
	if s.Terms != nil {
		return b.String() + s.Terms.text(s.Name)
	}
	return b.String() + emptyTerms(s.Name)
}

// text is stated terms as a block of sources.toml.
func (t *Terms) text(name string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "\n[%s.terms]\n", name)
	line := func(is bool, key string, value any) {
		if text, ok := value.(string); ok {
			value = quoted(text)
		}
		if is {
			fmt.Fprintf(&b, "%s = %v\n", key, value)
		}
	}
	for _, l := range [][2]string{{"offline", t.Offline}, {"reference", t.Reference}, {"permission", t.Permission},
		{"permission_by", t.PermissionBy}, {"permission_on", t.PermissionOn}, {"permission_reference", t.PermissionReference},
		{"copies_on_phones", t.CopiesOnPhones}, {"contact", t.Contact}} {
		line(l[1] != "", l[0], l[1])
	}
	line(t.RequestsPerSecond > 0, "requests_per_second", t.RequestsPerSecond)
	line(t.Connections > 0, "connections", t.Connections)
	line(t.TilesPerJob > 0, "tiles_per_job", t.TilesPerJob)
	line(t.TilesPerDay > 0, "tiles_per_day", t.TilesPerDay)
	var spans []string
	for _, span := range t.Hours.Spans() {
		spans = append(spans, quoted(span))
	}
	line(len(spans) > 0, "hours", stated("["+strings.Join(spans, ", ")+"]"))
	line(t.Hours.Zone() != "", "time_zone", t.Hours.Zone())
	line(t.KeepAtLeast > 0, "keep_at_least", ageText(t.KeepAtLeast))
	line(t.KeepAtMost > 0, "keep_at_most", ageText(t.KeepAtMost))
	return b.String()
}

// ageText is an age as it would be typed.
func ageText(a measure.Age) string {
	for _, u := range []struct {
		of   time.Duration
		name string
	}{{24 * time.Hour, "d"}, {time.Hour, "h"}, {time.Minute, "min"}} {
		if d := time.Duration(a); d >= u.of && d%u.of == 0 {
			return fmt.Sprintf("%d%s", d/u.of, u.name)
		}
	}
	return fmt.Sprintf("%gs", time.Duration(a).Seconds())
}

// stated is a value as TOML writes it.
type stated string

// emptyTerms is a terms block that refuses packing until someone has read the
// provider's terms.
func emptyTerms(name string) string {
	return fmt.Sprintf(`
[%s.terms]
# Nothing is packed until you have read the provider's terms and stated them here.
# offline = "allowed"        # allowed | permission | forbidden
# reference = ""             # where the terms are published
# permission_by = ""         # for "permission": who gave it,
# permission_on = ""         # on which day, YYYY-MM-DD
# permission_reference = ""  # and the letter or contract
# copies_on_phones = ""      # allowed | forbidden: may the crew's phones keep the whole job? Left out: they do not
# requests_per_second = %g    # what the terms allow
# connections = %d
# tiles_per_day = 50000
# keep_at_most = "90d"       # when the terms say how long tiles may be kept
# contact = ""               # where the provider can write to
`, name, DefaultRequestsPerSecond, DefaultConnections)
}

// quoted is a TOML basic string: JSON writes the same escapes, but leaves DEL,
// which TOML does not take; texts are one line of printable characters anyway.
func quoted(s string) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	_ = e.Encode(oneLine(s)) // a text can always be encoded
	return strings.TrimSpace(b.String())
}

func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
}

// Taken is the kind of fault of a name that a sources file has already.
var Taken = fault.Input("name taken")

// Append adds the block of [Source.Text] to a sources file, which is made when
// missing. What is in the file stays as it is, to the byte; the new file takes
// its place in one step. Nothing changes when the name is [Taken], the
// file cannot be read, or the block would not be read back as it is.
func Append(path string, s Source, remarks []string) error {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	old, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("cannot read the sources file: %w", err)
	}
	there, err := Read(old, path)
	if err != nil {
		return err
	}
	if !goodName(s.Name) {
		return place{file: path, source: s.Name}.fault(nameRule)
	}
	if _, taken := there.sources[s.Name]; taken {
		return &fault.Fault{Kind: Taken, Detail: fmt.Sprintf("%s has a source %q already", path, s.Name),
			Remedy: "give another name with --name, or edit the file"}
	}
	text := string(old)
	if text != "" {
		text = strings.TrimSuffix(text, "\n") + "\n\n"
	}
	text += s.Text(remarks)
	if _, err := Read([]byte(text), path); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	return durable.Write(path, []byte(text), 0o644)
}
