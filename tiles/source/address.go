package source

import (
	"errors"
	"fmt"
	"net/url"
	"os"
	"slices"
	"strconv"
	"strings"

	"groundsheet/tiles"
)

// keyMark stands where a key was.
const keyMark = "{key}"

// expand replaces every {name} of a template by what value gives for it.
func expand(template string, value func(name string) (string, error)) (string, error) {
	var out strings.Builder
	for {
		before, rest, found := strings.Cut(template, "{")
		out.WriteString(before)
		if !found {
			return out.String(), nil
		}
		name, after, closed := strings.Cut(rest, "}")
		if !closed {
			return "", errors.New(`a "{" is not closed`)
		}
		v, err := value(name)
		if err != nil {
			return "", err
		}
		out.WriteString(v)
		template = after
	}
}

// Address is the URL of one tile, with the key in it: never show it without
// [Source.Redact]. {s} goes by column and row, so a tile always has the same
// address. An error names what is missing: the tile at the source, the address
// of a practice source, or the environment variable with the key.
func (s Source) Address(t tiles.ID) (string, error) {
	switch {
	case s.URL == "":
		return "", fmt.Errorf("source %q has no address: its practice server is not running", s.Name)
	case !t.Valid():
		return "", fmt.Errorf("source %q: there is no tile %s", s.Name, t)
	case int(t.Z) < s.Zooms.Min || int(t.Z) > s.Zooms.Max:
		return "", fmt.Errorf("source %q has zooms %d to %d, tile %s is outside them", s.Name, s.Zooms.Min, s.Zooms.Max, t)
	}
	path, query, hasQuery := strings.Cut(s.URL, "?")
	text, err := expand(path, func(n string) (string, error) { return s.value(n, t, url.PathEscape) })
	if err != nil || !hasQuery {
		return text, err
	}
	query, err = expand(query, func(n string) (string, error) { return s.value(n, t, url.QueryEscape) })
	return text + "?" + query, err
}

// value is what one placeholder stands for; escape is for the key alone.
func (s Source) value(name string, t tiles.ID, escape func(string) string) (string, error) {
	row, flipped := t.Y, t.TMSRow()
	if s.Kind == KindTMS {
		row, flipped = flipped, row
	}
	switch name {
	case "z":
		return number(t.Z), nil
	case "x":
		return number(t.X), nil
	case "y":
		return number(row), nil
	case "-y":
		return number(flipped), nil
	case "q":
		return t.Quadkey(), nil
	case "s":
		if len(s.Subdomains) == 0 {
			return "", fmt.Errorf("source %q: url has {s} but subdomains is empty", s.Name)
		}
		return s.Subdomains[(uint64(t.X)+uint64(t.Y))%uint64(len(s.Subdomains))], nil
	case "key":
		key, err := s.key()
		return escape(key), err
	}
	return "", fmt.Errorf("source %q: {%s} is not a known placeholder", s.Name, name)
}

func number(n uint32) string { return strconv.FormatUint(uint64(n), 10) }

// key reads the key from the environment; the error names the variable.
func (s Source) key() (string, error) {
	key := strings.TrimSpace(os.Getenv(s.KeyEnv))
	if s.KeyEnv == "" || key == "" {
		return "", fmt.Errorf("source %q needs a key: set the environment variable %s", s.Name, s.KeyEnv)
	}
	return key, nil
}

// Redact puts {key} where the value of the key stands in a text, be it as it
// is, escaped for a URL, or quoted. Without a key the text is unchanged.
func (s Source) Redact(text string) string {
	if s.KeyEnv == "" {
		return text
	}
	key, err := s.key()
	if err != nil {
		return text
	}
	for _, form := range keyForms(key) {
		text = strings.ReplaceAll(text, form, keyMark)
	}
	return text
}

// keyForms are the ways a key is written, the longest first so that no form
// leaves a piece of another behind.
func keyForms(key string) []string {
	quoted := strconv.Quote(key)
	forms := []string{key, quoted[1 : len(quoted)-1]}
	for _, escape := range []func(string) string{url.QueryEscape, url.PathEscape, escapeAll} {
		forms = append(forms, escape(key), lowerHex(escape(key)))
	}
	slices.SortFunc(forms, func(a, b string) int { return len(b) - len(a) })
	return slices.Compact(forms)
}

// escapeAll escapes for a path the way url.URL writes a path it was given
// unescaped: fewer characters than [url.PathEscape].
func escapeAll(key string) string { return (&url.URL{Path: key}).EscapedPath() }

// lowerHex writes the digits of %XX escapes in lower case.
func lowerHex(s string) string {
	b := []byte(s)
	for i := 0; i+2 < len(b); i++ {
		if b[i] == '%' {
			copy(b[i+1:i+3], strings.ToLower(string(b[i+1:i+3])))
			i += 2
		}
	}
	return string(b)
}

// plainURLError drops the URL that url.Error repeats.
func plainURLError(err error) error {
	var ue *url.Error
	if errors.As(err, &ue) {
		return ue.Err
	}
	return err
}
