package geojson

import (
	"bytes"
	"encoding/json"
	"iter"
	"strings"
)

// The functions here take valid JSON apart without checking it again: encoding/json
// checks each value on each level anew, which for one long line takes seconds.

// members yields the members of an object, their values as they are in raw.
func members(raw []byte) iter.Seq2[string, json.RawMessage] {
	return func(yield func(string, json.RawMessage) bool) {
		var name string
		value := false
		for part := range parts(raw) {
			if !value {
				if name = string(part[1 : len(part)-1]); strings.Contains(name, `\`) {
					_ = json.Unmarshal(part, &name) // a valid text
				}
			} else if !yield(name, part) {
				return
			}
			value = !value
		}
	}
}

// parts yields the elements of an array, or the names and values of an object.
func parts(raw []byte) iter.Seq[json.RawMessage] {
	return func(yield func(json.RawMessage) bool) {
		raw = bytes.TrimSpace(raw)[1:]
		for {
			raw = bytes.TrimLeft(raw, " \t\r\n,:")
			if raw[0] == ']' || raw[0] == '}' {
				return
			}
			end := valueEnd(raw)
			if !yield(json.RawMessage(raw[:end:end])) {
				return
			}
			raw = raw[end:]
		}
	}
}

// valueEnd is the length of the value that raw begins with.
func valueEnd(raw []byte) int {
	depth := 0
	for i := 0; i < len(raw); i++ {
		switch raw[i] {
		case '"':
			for i++; raw[i] != '"'; i++ {
				if raw[i] == '\\' {
					i++
				}
			}
			if depth == 0 {
				return i + 1
			}
		case '[', '{':
			depth++
		case ']', '}':
			if depth--; depth < 0 {
				return i // the end of what encloses a number or a word
			} else if depth == 0 {
				return i + 1
			}
		case ',', ':', ' ', '\t', '\r', '\n':
			if depth == 0 {
				return i
			}
		}
	}
	return len(raw)
}

// Each reads the features of a FeatureCollection one after the other, so that memory
// holds one of them at a time. raw is the text of the feature, a part of data; f and
// err are what [Read] gives for it. An error of use ends the reading and is returned;
// else the error is about the collection.
func Each(data []byte, use func(raw []byte, f Feature, err error) error) error {
	data, err := text(data)
	if err != nil {
		return err
	}
	o, err := decode(data, "file")
	if err != nil {
		return err
	}
	list, ok := o.array("features")
	if !ok {
		return noFeatures()
	}
	for raw := range parts(list) {
		var f Feature
		o, err := decode(raw, "feature")
		if err == nil {
			f, err = (&reader{unreadable: map[int]pair{}}).feature(o, "feature")
		}
		if err := use(raw, f, err); err != nil {
			return err
		}
	}
	return nil
}
