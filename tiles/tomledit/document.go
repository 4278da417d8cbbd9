package tomledit

import (
	"bytes"
	"regexp"
	"slices"
	"strings"
)

// document is a text with the places of what is in it.
type document struct {
	text []byte
	all  []entry
}

func (d *document) splice(from, to int, with string) {
	d.text = slices.Concat(d.text[:from], []byte(with), d.text[to:])
	d.all = index(d.text)
}

// value is the entry that has the value of a path; -1 where there is none.
func (d *document) value(at path) int {
	return slices.IndexFunc(d.all, func(x entry) bool { return !x.heading && slices.Equal(x.path, at) })
}

// latest is the last entry that keep takes, or -1.
func (d *document) latest(keep func(entry) bool) int {
	for i, x := range slices.Backward(d.all) {
		if keep(x) {
			return i
		}
	}
	return -1
}

func (d *document) exists(at path) bool {
	return slices.ContainsFunc(d.all, func(x entry) bool { return x.path.within(at) })
}

func (d *document) isTable(i int) bool { return d.text[d.all[i].value] == '{' }

func (d *document) isList(i int) bool { return d.text[d.all[i].value] == '[' }

// underIts reports whether an entry stands under a heading within the table.
func (d *document) underIts(i int, table path) bool {
	h := d.all[i].table
	return h >= 0 && d.all[h].path.within(table)
}

func (d *document) indent(start int) string {
	return string(d.text[start:skipBlanks(d.text, start)])
}

func (d *document) eol() string {
	if i := bytes.IndexByte(d.text, '\n'); i > 0 && d.text[i-1] == '\r' {
		return "\r\n"
	}
	return "\n"
}

func (d *document) inEntry(at int) bool {
	return slices.ContainsFunc(d.all, func(x entry) bool { return x.start <= at && at < x.end })
}

// comments is where the comment lines that touch a place end, or begin.
func (d *document) comments(at int, down bool) int {
	for {
		from, to := at, lineEnd(d.text, at)
		if !down {
			if at == 0 {
				return at
			}
			from, to = lineStart(d.text, at-1), at
		}
		if from == to || !bytes.HasPrefix(bytes.TrimLeft(d.text[from:to], " \t"), []byte("#")) || d.inEntry(from) {
			return at
		}
		if at = from; down {
			at = to
		}
	}
}

// place is where a new table of the top goes: behind the comments that show it as a
// sample, or before the table that it was said to stand before, or at the end.
func (d *document) place(name, before string) int {
	sample := regexp.MustCompile(`^\s*#+\s*\[+\s*` + regexp.QuoteMeta(name) + `\s*\]`)
	for at := 0; at < len(d.text); at = lineEnd(d.text, at) {
		if d.inEntry(at) || !sample.Match(d.text[at:lineEnd(d.text, at)]) {
			continue
		}
		pos := d.comments(at, true)
		next := slices.IndexFunc(d.all, func(x entry) bool { return x.start >= pos })
		if next < 0 || d.all[next].heading && d.all[next].start > pos {
			return pos
		}
	}
	if i := slices.IndexFunc(d.all, func(x entry) bool { return x.heading && x.path[0].key == before }); i >= 0 {
		return d.comments(d.all[i].start, false)
	}
	return len(d.text)
}

func (d *document) itemsOf(list int) (all []entry) {
	for _, x := range d.all {
		if x.in == list {
			all = append(all, x)
		}
	}
	return all
}

// hasOwnLine reports whether nothing but a comment shares the lines of a stretch.
func (d *document) hasOwnLine(from, to int) bool {
	rest := bytes.TrimLeft(d.text[to:lineEnd(d.text, to)], " \t\r\n")
	return strings.TrimLeft(string(d.text[lineStart(d.text, from):from]), " \t") == "" && (len(rest) == 0 || rest[0] == '#')
}

// countBefore is how many entries begin before a place.
func (d *document) countBefore(at int) (n int) {
	for _, x := range d.all {
		if x.start < at {
			n++
		}
	}
	return n
}

// ownComments widens a table's lines by the comments that are about it: those that
// touch it from above, unless they touch what is before too or begin the file, and
// those behind its last key, unless they touch the next table. One blank line stays.
func (d *document) ownComments(from, to int) (int, int) {
	isBlank := func(at int) bool { return len(bytes.TrimSpace(d.text[at:lineEnd(d.text, at)])) == 0 }
	if above := d.comments(from, false); above > 0 && isBlank(lineStart(d.text, above-1)) {
		from = above
	}
	if below := d.comments(to, true); isBlank(below) {
		to = below
	}
	if from == 0 || isBlank(lineStart(d.text, from-1)) {
		for to < len(d.text) && isBlank(to) {
			to = lineEnd(d.text, to)
		}
	}
	return from, to
}
