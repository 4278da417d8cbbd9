package tomledit

import (
	"bytes"
	"slices"
)

// addItem adds to a list or an inline table, behind its item k; -1 where it is empty.
func (e *editor) addItem(list, k int, item string) {
	in := e.all[list]
	items := e.itemsOf(list)
	if k < 0 || len(items) == 0 {
		if inside := e.text[in.value+1 : in.to-1]; len(bytes.Trim(inside, " \t")) > 0 { // lines or a comment
			e.splice(in.value+1, in.value+1, item)
			return
		}
		if e.isTable(list) {
			item = " " + item + " "
		}
		e.splice(in.value+1, in.to-1, item)
		return
	}
	x := items[k]
	behind, comma := x.to, false
	if at := skipBlanks(e.text, x.to); e.text[at] == ',' {
		behind, comma = at+1, true
	}
	if !e.hasOwnLine(x.start, behind) || !comma && k < len(items)-1 {
		e.splice(x.to, x.to, ", "+item)
		return
	}
	line := e.indent(lineStart(e.text, x.start)) + item
	if comma {
		line += ","
	}
	e.line(lineEnd(e.text, behind), line)
	if !comma {
		e.splice(x.to, x.to, ",")
	}
}

// removeItem takes an item out, with the comma that it needs no longer.
func (e *editor) removeItem(i int) {
	x, list := e.all[i], e.all[i].in
	items := e.itemsOf(list)
	k := slices.IndexFunc(items, func(y entry) bool { return y.start == x.start })
	from, to := x.start, x.to
	comma := skipTrivia(e.text, to)
	switch {
	case e.text[comma] != ',':
		comma = -1
	case bytes.IndexByte(e.text[to:comma], '\n') < 0:
		to = comma + 1
	default: // it stands on a later line
		e.splice(comma, comma+1, "")
	}
	switch {
	case e.hasOwnLine(from, to):
		from, to = lineStart(e.text, from), lineEnd(e.text, to)
	case k < len(items)-1:
		to = skipBlanks(e.text, to)
	default:
		for e.text[from-1] == ' ' || e.text[from-1] == '\t' {
			from--
		}
	}
	e.splice(from, to, "")
	if comma < 0 && k > 0 {
		if at := skipTrivia(e.text, items[k-1].to); e.text[at] == ',' {
			e.splice(at, at+1, "")
		}
	}
}

// remove takes out whatever a path names, wherever parts of it stand.
func (e *editor) remove(at path) {
	e.all = index(e.text)
	for last := len(e.all) - 1; last >= 0; last-- {
		x := e.all[last]
		if !x.path.within(at) || x.isItem() && e.all[x.in].path.within(at) {
			continue
		}
		if x.isItem() {
			start := x.start
			e.removeItem(last)
			last = e.countBefore(start)
			continue
		}
		first := last
		for i := last; i >= 0 && e.all[i].path.within(at); i-- {
			if !e.all[i].isItem() {
				first = i
			}
		}
		from, to := e.all[first].start, x.end
		if e.all[first].heading {
			from, to = e.ownComments(from, to)
		}
		start := e.all[first].start
		e.splice(from, to, "")
		last = e.countBefore(min(start, from))
	}
}
