package tomledit

import (
	"bytes"

	"github.com/pelletier/go-toml/v2/unstable"
)

// entry is one thing of a text that has a place: the heading of a table, a line with
// key and value, or an item of a list or an inline table.
type entry struct {
	path       path
	heading    bool
	start, end int // a heading and a line with the end of its line; an item alone
	value, to  int // the value in the text; none for headings
	table      int // the heading it stands under, by its place in the index; -1 = none
	in         int // the list or inline table it is an item of; -1 = none
}

func (e entry) isItem() bool { return e.in >= 0 }

// index finds everything in a text that is TOML, in the order of the text; items come
// after what they are in.
func index(text []byte) (all []entry) {
	var p unstable.Parser
	p.Reset(text)
	counts := map[string]int{}
	under := -1
	// a part that names a list of tables means its latest
	walk := func(from path, keys []string) path {
		for _, k := range keys {
			from = from.key(k)
			if n := counts[from.String()]; n > 0 {
				from = from.at(n - 1)
			}
		}
		return from
	}
	for p.NextExpression() {
		x := p.Expression()
		var keys []string
		first, last := -1, 0
		for it := x.Key(); it.Next(); {
			raw := it.Node().Raw
			if first < 0 {
				first = int(raw.Offset)
			}
			last = int(raw.Offset + raw.Length)
			keys = append(keys, string(it.Node().Data))
		}
		if first < 0 {
			continue
		}
		e := entry{start: lineStart(text, first), table: under, in: -1}
		if x.Kind == unstable.KeyValue {
			e.to = int(x.Raw.Offset + x.Raw.Length)
			e.value = skipBlanks(text, skipBlanks(text, last)+1)
			e.end = lineEnd(text, e.to)
			if under >= 0 {
				e.path = all[under].path
			}
			for _, k := range keys { // a key of a value never means a list of tables
				e.path = e.path.key(k)
			}
			all = append(all, e)
			all = items(text, all, len(all)-1)
			continue
		}
		e.heading, e.table, e.end = true, -1, lineEnd(text, last)
		if x.Kind == unstable.ArrayTable {
			e.path = walk(nil, keys[:len(keys)-1]).key(keys[len(keys)-1])
			name := e.path.String()
			e.path = e.path.at(counts[name])
			counts[name]++
		} else {
			e.path = walk(nil, keys)
		}
		under = len(all)
		all = append(all, e)
	}
	return all
}

// items adds what is in the value of an entry.
func items(text []byte, all []entry, of int) []entry {
	from := all[of]
	open := text[from.value]
	if open != '[' && open != '{' {
		return all
	}
	n := 0
	for at := skipTrivia(text, from.value+1); text[at] != ']' && text[at] != '}'; n++ {
		e := entry{path: from.path.at(n), start: at, value: at, table: from.table, in: of}
		if open == '{' {
			e.value = skipTrivia(text, keyEnd(text, at)+1)
		}
		e.to = valueEnd(text, e.value)
		e.end = e.to
		if open == '{' {
			keys, _ := keysOf(text[at:e.to])
			e.path = from.path
			for _, k := range keys {
				e.path = e.path.key(k)
			}
		}
		all = append(all, e)
		all = items(text, all, len(all)-1)
		at = skipTrivia(text, e.to)
		if text[at] == ',' {
			at = skipTrivia(text, at+1)
		}
	}
	return all
}

func lineStart(text []byte, at int) int { return bytes.LastIndexByte(text[:at], '\n') + 1 }

// lineEnd is behind the end of the line.
func lineEnd(text []byte, at int) int {
	if i := bytes.IndexByte(text[at:], '\n'); i >= 0 {
		return at + i + 1
	}
	return len(text)
}

func skipBlanks(text []byte, at int) int {
	for at < len(text) && (text[at] == ' ' || text[at] == '\t') {
		at++
	}
	return at
}

// skipTrivia passes blanks, ends of lines and comments.
func skipTrivia(text []byte, at int) int {
	for at < len(text) {
		switch text[at] {
		case ' ', '\t', '\r', '\n':
			at++
		case '#':
			at = lineEnd(text, at)
		default:
			return at
		}
	}
	return at
}

// keyEnd is where the = behind a key is.
func keyEnd(text []byte, at int) int {
	for text[at] != '=' {
		if text[at] == '"' || text[at] == '\'' {
			at = stringEnd(text, at)
		} else {
			at++
		}
	}
	return at
}

// valueEnd is behind the value that begins at a place.
func valueEnd(text []byte, at int) int {
	switch text[at] {
	case '"', '\'':
		return stringEnd(text, at)
	case '[', '{':
		for at = skipTrivia(text, at+1); text[at] != ']' && text[at] != '}'; at = skipTrivia(text, at) {
			switch text[at] {
			case '"', '\'', '[', '{':
				at = valueEnd(text, at)
			default:
				at++
			}
		}
		return at + 1
	}
	end := at
	for end < len(text) && !bytes.ContainsRune([]byte(",]}#\r\n"), rune(text[end])) {
		end++
	}
	return at + len(bytes.TrimRight(text[at:end], " \t"))
}

// stringEnd is behind a string of any of the four forms.
func stringEnd(text []byte, at int) int {
	quote := text[at]
	long := bytes.HasPrefix(text[at:], []byte{quote, quote, quote})
	if long {
		at += 2
	}
	for at++; ; at++ {
		switch {
		case quote == '"' && text[at] == '\\':
			at++
		case text[at] != quote:
		case !long:
			return at + 1
		case text[at+1] == quote && text[at+2] == quote:
			for at += 3; at < len(text) && text[at] == quote; at++ { // quotation marks before the end
			}
			return at
		}
	}
}
