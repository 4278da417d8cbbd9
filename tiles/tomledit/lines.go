package tomledit

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// line puts a whole line in.
func (e *editor) line(pos int, text string) {
	if pos > 0 && e.text[pos-1] != '\n' {
		text = e.eol() + text
	}
	e.splice(pos, pos, text+e.eol())
}

// insertLine adds a line to a heading's table (-1 = the top): behind its last key, or
// behind the comment that shows the same key as a sample.
func (e *editor) insertLine(heading int, key, line string) {
	from, to, indent := 0, len(e.text), ""
	if heading >= 0 {
		from = e.all[heading].end
		indent = e.indent(e.all[heading].start)
	}
	pos := from
	for i, x := range e.all {
		if x.heading && i > heading {
			to = x.start
			break
		}
		if !x.isItem() && !x.heading && x.table == heading {
			pos, indent = x.end, e.indent(x.start)
		}
	}
	sample := regexp.MustCompile(`^\s*#+\s*` + regexp.QuoteMeta(key) + `\s*=`)
	for at := from; at < to; at = lineEnd(e.text, at) {
		text := e.text[at:lineEnd(e.text, at)]
		if e.inEntry(at) {
			continue
		}
		if tableSample.Match(text) {
			break
		}
		if sample.Match(text) {
			pos = at + len(text)
		}
	}
	e.line(pos, indent+line)
}

func (e *editor) newBlock(heading, name string, t Table) error {
	return e.block(e.place(name, e.before), heading, t)
}

func (e *editor) block(pos int, heading string, t Table) error {
	var all []string
	for _, f := range t {
		text, err := renderField(f)
		if err != nil {
			return err
		}
		all = append(all, text)
	}
	return e.lines(pos, heading, all)
}

// lines puts a table in, with a blank line before and behind it.
func (e *editor) lines(pos int, heading string, all []string) error {
	if e.inEntry(pos) && !slices.ContainsFunc(e.all, func(x entry) bool { return x.start == pos }) {
		return fmt.Errorf("%s has no place of its own", heading)
	}
	eol := e.eol()
	text := heading + eol
	for _, line := range all {
		text += line + eol
	}
	before := string(e.text[:pos])
	if before != "" && !strings.HasSuffix(before, "\n") {
		text = eol + eol + text
	} else if before != "" && strings.TrimRight(before[lineStart(e.text, pos-1):], " \t\r\n") != "" {
		text = eol + text
	}
	if next := e.text[pos:lineEnd(e.text, pos)]; len(bytes.TrimSpace(next)) > 0 {
		text += eol
	}
	e.splice(pos, pos, text)
	return nil
}

var tableSample = regexp.MustCompile(`^\s*#+\s*\[`)
