// Package tomledit changes single values of a TOML text that people write by hand.
// Every other byte stays as it is: comments, order, spacing, ends of lines.
//
//	text, err := tomledit.Apply(text,
//		tomledit.Change{Path: "margin", Value: "75ft"},
//		tomledit.Change{Path: "base[0].zooms", Value: []any{14, 21}},
//		tomledit.Change{Path: "overlay[]", Value: tomledit.Table{{"file", "gas.csv"}, {"utility", "gas"}}},
//		tomledit.Change{Path: "fit_in"}) // taken out
//
// What comes out is read again and must differ from what went in by the changes alone;
// else nothing is changed. go-toml/v2 is at home here for the places of keys.
package tomledit

import (
	"bytes"
	"fmt"

	"github.com/pelletier/go-toml/v2"

	"groundsheet/tiles/fault"
)

// Change sets, adds or takes out one value.
type Change struct {
	// Path names the value: "margin", "ticket.number", "base[0].zooms", `columns."D 1"`.
	// "overlay[]" adds a table at the end of its list.
	Path string
	// Value is a string, bool, int, int64, float64, [Day], [Table], or a list of them as
	// []any; nil takes out what is there. A table that is there already keeps its
	// order and comments; keys that the new one lacks are taken out.
	Value any
	// Before names the table that a new table of the top stands before, when there is no
	// other of its name yet; "" = it goes to the end.
	Before string
}

// Day is a date without quotation marks: 2026-12-12.
type Day string

// Table is a table with the order in which its keys are written.
type Table []Field

// Field is a key with its value.
type Field struct {
	Key   string
	Value any
}

var bom = []byte("\xef\xbb\xbf")

// Apply makes the changes one after the other. The text given is not touched.
func Apply(text []byte, changes ...Change) ([]byte, error) {
	mark := text[:len(text)-len(bytes.TrimPrefix(text, bom))]
	out := bytes.Clone(text[len(mark):])
	for _, c := range changes {
		var err error
		if out, err = apply(out, c); err != nil {
			return nil, err
		}
	}
	return append(bytes.Clone(mark), out...), nil
}

func apply(text []byte, c Change) ([]byte, error) {
	at, err := parsePath(c.Path)
	if err != nil {
		return nil, err
	}
	before, err := decode(text)
	if err != nil {
		return nil, &fault.Fault{Detail: "the file cannot be read", Err: err, Remedy: "mend it by hand first"}
	}
	if day, ok := c.Value.(string); ok && isDay(day) {
		if old, is := valueAt(before, at).(toml.LocalDate); is { // it stays without quotation marks
			c.Value = Day(day)
			if old.String() == day {
				return text, nil
			}
		}
	}
	want, err := expected(before, at, c.Value)
	if err != nil {
		return nil, err
	}
	e := editor{document: document{text: text}, before: c.Before}
	if err := e.change(at, c.Value); err != nil {
		return nil, err
	}
	after, err := decode(e.text)
	if err != nil || !same(prune(after), prune(want)) {
		return nil, byHand(c.Path, "the file is written in a way that this change cannot be made in alone")
	}
	return e.text, nil
}

func byHand(path, detail string) error {
	return &fault.Fault{Place: path, Detail: detail, Remedy: "change it in the file by hand"}
}

func decode(text []byte) (map[string]any, error) {
	all := map[string]any{}
	err := toml.Unmarshal(text, &all)
	return all, err
}

// normal is a value as it is read back once it is written.
func normal(v any) (any, error) {
	text, err := render(v)
	if err != nil {
		return nil, err
	}
	all, err := decode([]byte("v = " + text + "\n"))
	if err != nil {
		return nil, fmt.Errorf("%v cannot be written into a TOML file: %w", v, err)
	}
	return all["v"], nil
}
