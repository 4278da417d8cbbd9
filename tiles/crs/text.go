package crs

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// node is one element of the well-known text of a coordinate reference
// system: WORD["text", 1.5, WORD[…], BARE].
type node struct {
	word    string // upper case
	texts   []string
	numbers []float64
	bare    []string // upper case
	nodes   []*node
}

// Limits of such a text; the longest of the EPSG registry have about 5 kB.
const (
	maxText  = 64 << 10
	maxDepth = 16
)

// tokens are a quoted text, a mark, or words; a lone quote is one not closed.
var tokens = regexp.MustCompile(`"[^"]*"|"|[\[\](),]|[^\[\](),"\s]+(?:\s+[^\[\](),"\s]+)*`)

const notWKT = "not well-known text"

type parser struct {
	text string
	at   int
}

// parse reads one element, and gives what follows it.
func parse(text string) (*node, string, error) {
	if len(text) > maxText {
		return nil, "", fmt.Errorf("the text has more than %d bytes", maxText)
	}
	p := &parser{text: text}
	n, wrong := p.element(p.next(), 0)
	if wrong != "" {
		return nil, "", fmt.Errorf("%s at character %d", wrong, p.at+1)
	}
	return n, strings.Trim(text[p.at:], " \t\r\n\x00"), nil
}

// next is the next token; "" at the end.
func (p *parser) next() string {
	found := tokens.FindStringIndex(p.text[p.at:])
	if found == nil {
		p.at = len(p.text)
		return ""
	}
	token := p.text[p.at+found[0] : p.at+found[1]]
	p.at += found[1]
	return token
}

// opens reports whether the next token begins the arguments of an element, and
// passes it.
func (p *parser) opens() bool {
	at := p.at
	token := p.next()
	if token == "[" || token == "(" {
		return true
	}
	p.at = at
	return false
}

// node reads the arguments of an element whose word has been read.
func (p *parser) element(word string, depth int) (n *node, wrong string) {
	switch {
	case depth > maxDepth:
		return nil, "nested too deep"
	case word == "" || strings.ContainsAny(word[:1], `"[](),`) || depth == 0 && !p.opens():
		return nil, notWKT
	}
	n = &node{word: strings.ToUpper(word)}
	for {
		token := p.next()
		switch {
		case token == "":
			return nil, "the text ends too soon"
		case token == `"`:
			return nil, "a quote that is not closed"
		case token[0] == '"':
			n.texts = append(n.texts, strings.TrimSpace(token[1:len(token)-1]))
		case p.opens():
			inner, wrong := p.element(token, depth+1)
			if wrong != "" {
				return nil, wrong
			}
			n.nodes = append(n.nodes, inner)
		default:
			if v, err := strconv.ParseFloat(token, 64); err == nil && !math.IsInf(v, 0) && !math.IsNaN(v) {
				n.numbers = append(n.numbers, v)
			} else {
				n.bare = append(n.bare, strings.ToUpper(token))
			}
		}
		switch p.next() {
		case ",":
		case "]", ")":
			return n, ""
		case "":
			return nil, "the text ends too soon"
		default:
			return nil, notWKT
		}
	}
}

// find is the first child of one of several words; an empty element when there
// is none.
func (n *node) find(words ...string) *node {
	for _, c := range n.nodes {
		if slices.Contains(words, c.word) {
			return c
		}
	}
	return &node{}
}

func (n *node) name() string {
	if len(n.texts) == 0 {
		return ""
	}
	return n.texts[0]
}

// number is the i-th number; ok says that it is there.
func (n *node) number(i int) (float64, bool) {
	if i >= len(n.numbers) {
		return 0, false
	}
	return n.numbers[i], true
}
