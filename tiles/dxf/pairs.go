package dxf

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// pair is a group code with its value.
type pair struct {
	code  int
	value string
}

// record is everything from one group code 0 to the next.
type record struct {
	kind  string
	line  int // in the file, from 1
	pairs []pair
}

// pairs reads a file record by record.
type pairs struct {
	data   []byte
	line   int
	ahead  *pair // the code 0 that begins the next record
	lineAt int   // of it
}

func newPairs(data []byte) *pairs {
	return &pairs{data: bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))}
}

func (p *pairs) place() string { return fmt.Sprintf("line %d", p.line) }

// nextLine gives a line without its end; false at the end of the file.
func (p *pairs) nextLine() (string, bool) {
	if len(p.data) == 0 {
		return "", false
	}
	p.line++
	line, rest, _ := bytes.Cut(p.data, []byte("\n"))
	p.data = rest
	return strings.TrimSuffix(string(line), "\r"), true
}

// pair reads one group; nil at the end.
func (p *pairs) pair() (*pair, error) {
	text, ok := p.nextLine()
	if !ok || len(p.data) == 0 && strings.TrimSpace(text) == "" {
		return nil, nil
	}
	code, err := strconv.Atoi(strings.TrimSpace(text))
	if err != nil {
		return nil, refuse(p.place(), fmt.Sprintf("%.40q is not a group code", text), saveAgain)
	}
	value, ok := p.nextLine()
	if !ok {
		return nil, refuse(p.place(), "the drawing ends inside a group: it is cut off", "copy or save it again")
	}
	return &pair{code, value}, nil
}

// next reads a record; nil at the end of the file. Comments are left out.
func (p *pairs) next() (*record, error) {
	for p.ahead == nil {
		one, err := p.pair()
		if err != nil || one == nil {
			return nil, err
		}
		if one.code == 0 {
			p.ahead, p.lineAt = one, p.line
		} else if one.code != 999 {
			return nil, refuse(p.place(), "it does not begin with a section", saveAgain)
		}
	}
	r := &record{kind: strings.ToUpper(strings.TrimSpace(p.ahead.value)), line: p.lineAt}
	p.ahead = nil
	for {
		one, err := p.pair()
		switch {
		case err != nil:
			return nil, err
		case one == nil:
			return r, nil
		case one.code == 0:
			p.ahead, p.lineAt = one, p.line
			return r, nil
		case len(r.pairs) == mostPairs:
			return nil, refuse(p.place(), fmt.Sprintf("an entity of more than %d groups", mostPairs), "simplify the drawing or split it")
		case one.code != 999:
			r.pairs = append(r.pairs, *one)
		}
	}
}

func (r *record) place() string { return fmt.Sprintf("line %d, %s", r.line, r.kind) }

// text is the first value of a code; "" when there is none.
func (r *record) text(code int) string {
	for _, p := range r.pairs {
		if p.code == code {
			return strings.TrimSpace(p.value)
		}
	}
	return ""
}

func (r *record) whole(code int) int { return whole(r.text(code)) }

func whole(text string) int {
	v, _ := strconv.Atoi(strings.TrimSpace(text))
	return v
}

// number is the first value of a code as a number, or what stands for it where
// there is none.
func (r *record) number(code int, otherwise float64) float64 {
	text := r.text(code)
	if text == "" {
		return otherwise
	}
	return number(text)
}

// number is not a number where the text is none, which no later step lets pass.
func number(text string) float64 {
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || math.IsInf(v, 0) {
		return math.NaN()
	}
	return v
}
