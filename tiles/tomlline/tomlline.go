// Package tomlline finds the lines of keys in a TOML text, so that a
// bad value can be reported with its place.
package tomlline

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// Keys are the keys of a text in their order. Tables of a list are counted from 0,
// as in "around[1].center".
type Keys []Key

// Key is one key, or the heading of a table.
type Key struct {
	Path    string
	Line    int    // from 1
	value   bool   // it has one; false for a heading
	heading string // its table
	text    string // with its value, as it is written
}

// Read finds the keys of a text. Of a text that is no TOML, those before the
// syntax error are returned.
func Read(data []byte) Keys {
	var p unstable.Parser
	p.Reset(data)
	var all Keys
	var starts []int
	table, heading, counts := "", "", map[string]int{}
	for p.NextExpression() {
		e := p.Expression()
		name, at := "", -1
		for it := e.Key(); it.Next(); {
			if at < 0 {
				at = bytes.LastIndexByte(data[:it.Node().Raw.Offset], '\n') + 1
			}
			name = strings.TrimPrefix(name+"."+string(it.Node().Data), ".")
		}
		if at < 0 {
			continue
		}
		k := Key{Path: name, Line: bytes.Count(data[:at], []byte("\n")) + 1}
		switch e.Kind {
		case unstable.Table:
			table, heading = name, "["+name+"]\n"
		case unstable.ArrayTable:
			table, heading = fmt.Sprintf("%s[%d]", name, counts[name]), "[["+name+"]]\n"
			counts[name]++
			k.Path = table
		default:
			k.Path, k.heading = strings.TrimPrefix(table+"."+name, "."), heading
			k.value = true
		}
		all, starts = append(all, k), append(starts, at)
	}
	for i := range all {
		end := len(data)
		if i+1 < len(all) {
			end = starts[i+1]
		}
		all[i].text = string(data[starts[i]:end])
	}
	return all
}

// Line is the line of a key, or else of its table; 0 if neither exists.
func (k Keys) Line(path string) int {
	for path != "" {
		for _, key := range k {
			if key.Path == path {
				return key.Line
			}
		}
		path = path[:max(strings.LastIndexByte(path, '.'), 0)]
	}
	return 0
}

var quotation = regexp.MustCompile(`"[^"]*"|“[^”]*”`)

// LineNamedIn is the line of the first key of a table that a message names outside its
// quotations, else of the table. The path of the text's top is "".
func (k Keys) LineNamedIn(table, message string) int {
	message = quotation.ReplaceAllString(message, " ")
	line, first := k.Line(table), len(message)
	for _, key := range k {
		name, within := strings.CutPrefix(key.Path, table+".")
		if table == "" {
			name, within = key.Path, true
		}
		if !within || !key.value || strings.Contains(name, ".") {
			continue
		}
		if at := regexp.MustCompile(`\b` + regexp.QuoteMeta(name) + `\b`).FindStringIndex(message); at != nil &&
			at[0] < first {
			line, first = key.Line, at[0]
		}
	}
	return line
}

// FirstFailing is the first key whose value alone makes decode fail; false when none
// does.
func (k Keys) FirstFailing(decode func([]byte) error) (Key, bool) {
	for _, key := range k {
		if key.value && decode([]byte(key.heading+key.text)) != nil {
			return key, true
		}
	}
	return Key{}, false
}
