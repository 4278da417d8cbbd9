package tomledit

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// step is one part of a path: a key, or a place in a list (-1 = behind its end).
type step struct {
	key   string
	index int
	list  bool
}

type path []step

var bare = regexp.MustCompile(`^[A-Za-z0-9_-]+$`)

func (s step) String() string {
	switch {
	case s.list && s.index < 0:
		return "[]"
	case s.list:
		return "[" + strconv.Itoa(s.index) + "]"
	case bare.MatchString(s.key):
		return s.key
	}
	text, err := Quote(s.key)
	if err != nil {
		return strconv.Quote(s.key)
	}
	return text
}

// String names a place in one way, however its keys are quoted.
func (p path) String() string {
	var b strings.Builder
	for i, s := range p {
		if i > 0 && !s.list {
			b.WriteByte('.')
		}
		b.WriteString(s.String())
	}
	return b.String()
}

func (p path) parent() path { return p[:len(p)-1] }
func (p path) last() step   { return p[len(p)-1] }

// and is the path with more steps; the steps of p are not shared.
func (p path) and(more ...step) path { return append(p[:len(p):len(p)], more...) }

func (p path) key(name string) path { return p.and(step{key: name}) }
func (p path) at(i int) path        { return p.and(step{index: i, list: true}) }

// within reports whether p is whole, or lies in it.
func (p path) within(whole path) bool {
	if len(p) < len(whole) {
		return false
	}
	for i := range whole {
		if p[i] != whole[i] {
			return false
		}
	}
	return true
}

var inList = regexp.MustCompile(`\[(\d{0,6})\]$`)

// parsePath reads `overlay[1].columns."D 1"`.
func parsePath(text string) (p path, err error) {
	for rest := text; ; {
		name := rest
		if at := endOfKey(rest); at >= 0 {
			name, rest = rest[:at], rest[at+1:]
		} else {
			rest = ""
		}
		var places []step
		for m := inList.FindStringSubmatchIndex(name); m != nil; m = inList.FindStringSubmatchIndex(name) {
			s := step{index: -1, list: true}
			if n := name[m[2]:m[3]]; n != "" {
				s.index, _ = strconv.Atoi(n)
			}
			places, name = append([]step{s}, places...), name[:m[0]]
		}
		keys, ok := keysOf([]byte(name + " = 0"))
		if !ok || len(keys) != 1 {
			return nil, fmt.Errorf("%q names no value: write it as margin, ticket.number or base[0].zooms", text)
		}
		p = append(p.key(keys[0]), places...)
		if rest == "" {
			return p, p.check(text)
		}
	}
}

func (p path) check(text string) error {
	for i, s := range p {
		if s.list && s.index < 0 && i < len(p)-1 {
			return fmt.Errorf("%q names no value: [] stands at the end only, for a table to be added", text)
		}
	}
	return nil
}

// endOfKey is where the first dot outside quotation marks is, or -1.
func endOfKey(text string) int {
	quote := byte(0)
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case quote == '"' && c == '\\':
			i++
		case quote != 0 && c == quote:
			quote = 0
		case quote == 0 && (c == '"' || c == '\''):
			quote = c
		case quote == 0 && c == '.':
			return i
		}
	}
	return -1
}

// keysOf are the parts of the key of a key with its value.
func keysOf(text []byte) (keys []string, ok bool) {
	var p unstable.Parser
	p.Reset(text)
	if !p.NextExpression() || p.Expression().Kind != unstable.KeyValue {
		return nil, false
	}
	for it := p.Expression().Key(); it.Next(); {
		keys = append(keys, string(it.Node().Data))
	}
	return keys, true
}
