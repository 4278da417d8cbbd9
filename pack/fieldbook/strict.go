package fieldbook

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"unicode/utf8"
)

// Limits of the text of an entry. The project's own choice, no source.
const (
	MaxText  = 64 << 10 // bytes
	maxDepth = 12       // of values in values
)

// checkJSON proves that a text is one JSON object in UTF-8 that every reader reads alike:
// no name twice in an object, no number that is not finite, not nested too deep.
func checkJSON(text []byte) error {
	switch {
	case len(text) > MaxText:
		return fmt.Errorf("the entry has %d bytes; at most %d are taken", len(text), MaxText)
	case !utf8.Valid(text):
		return errors.New("the entry is not UTF-8 text")
	case !bytes.HasPrefix(text, []byte("{")):
		return errors.New("the entry is not a JSON object")
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	if err := checkValue(d, 0); err != nil {
		return err
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return errors.New("the entry goes on after its end")
	}
	return nil
}

// checkValue reads one value.
func checkValue(d *json.Decoder, depth int) error {
	token, err := d.Token()
	if err != nil {
		return fmt.Errorf("the entry is not JSON: %w", noEOF(err))
	}
	if n, ok := token.(json.Number); ok {
		if v, err := strconv.ParseFloat(n.String(), 64); err != nil || math.IsInf(v, 0) {
			return errors.New("the entry has a number that is too large")
		}
	}
	open, ok := token.(json.Delim)
	if !ok {
		return nil
	}
	if depth++; depth > maxDepth {
		return fmt.Errorf("the entry is nested deeper than %d", maxDepth)
	}
	names := map[string]bool{}
	for d.More() {
		if open == '{' {
			if err := checkName(d, names); err != nil {
				return err
			}
		}
		if err := checkValue(d, depth); err != nil {
			return err
		}
	}
	if _, err := d.Token(); err != nil {
		return fmt.Errorf("the entry is not JSON: %w", noEOF(err))
	}
	return nil
}

func checkName(d *json.Decoder, seen map[string]bool) error {
	token, err := d.Token()
	if err != nil {
		return fmt.Errorf("the entry is not JSON: %w", noEOF(err))
	}
	name, _ := token.(string)
	if seen[name] {
		return errors.New("the entry has a name twice in one object")
	}
	seen[name] = true
	return nil
}

func noEOF(err error) error {
	if errors.Is(err, io.EOF) {
		return io.ErrUnexpectedEOF
	}
	return err
}

// object is the members of a JSON object by their exact names; encoding/json would take
// names of another case for a field of a struct.
type object map[string]json.RawMessage

func (o object) text(name string, most int) (s string, err error) {
	raw, ok := o[name]
	if !ok || string(raw) == "null" {
		return "", nil
	}
	if json.Unmarshal(raw, &s) != nil {
		return "", fmt.Errorf("%q is no text", name)
	}
	if len(s) > most {
		return "", fmt.Errorf("%q has %d bytes; at most %d are taken", name, len(s), most)
	}
	return s, nil
}

// number is nil where there is none, or null.
func (o object) number(name string) (*float64, error) {
	raw, ok := o[name]
	if !ok || string(raw) == "null" {
		return nil, nil
	}
	var v float64
	if json.Unmarshal(raw, &v) != nil {
		return nil, fmt.Errorf("%q is no number", name)
	}
	return &v, nil
}
