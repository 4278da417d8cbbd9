package vector

import (
	"fmt"
	"regexp"
	"strings"
)

// crsNode is one element of the well-known text of a coordinate reference
// system: WORD["text", 1.5, WORD[…], BARE].
type crsNode struct {
	word    string // upper case
	texts   []string
	numbers []float64
	nodes   []*crsNode
}

// Limits of such a text; the longest of the EPSG registry have about 5 kB.
const (
	maxCRSText  = 64 << 10
	maxCRSDepth = 16
)

// crsToken is a quoted text, a mark, or words; a lone quote is one not closed.
var crsToken = regexp.MustCompile(`"[^"]*"|"|[\[\](),]|[^\[\](),"\s]+(?:\s+[^\[\](),"\s]+)*`)

const notWKT = "not well-known text"

type crsParser struct {
	text string
	at   int
}

// parseCRS reads one element, and gives what follows it.
func parseCRS(text string) (*crsNode, string, error) {
	if len(text) > maxCRSText {
		return nil, "", fmt.Errorf("the text has more than %d bytes", maxCRSText)
	}
	p := &crsParser{text: text}
	n, wrong := p.node(p.next(), 0)
	if wrong != "" {
		return nil, "", fmt.Errorf("%s at character %d", wrong, p.at+1)
	}
	return n, strings.Trim(text[p.at:], " \t\r\n\x00"), nil
}

// next is the next token; "" at the end.
func (p *crsParser) next() string {
	found := crsToken.FindStringIndex(p.text[p.at:])
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
func (p *crsParser) opens() bool {
	at := p.at
	token := p.next()
	if token == "[" || token == "(" {
		return true
	}
	p.at = at
	return false
}

// node reads the arguments of an element whose word has been read.
func (p *crsParser) node(word string, depth int) (n *crsNode, wrong string) {
	switch {
	case depth > maxCRSDepth:
		return nil, "nested too deep"
	case word == "" || strings.ContainsAny(word[:1], `"[](),`) || depth == 0 && !p.opens():
		return nil, notWKT
	}
	n = &crsNode{word: strings.ToUpper(word)}
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
			inner, wrong := p.node(token, depth+1)
			if wrong != "" {
				return nil, wrong
			}
			n.nodes = append(n.nodes, inner)
		default:
			if v, ok := number(token); ok {
				n.numbers = append(n.numbers, v)
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

// find is the first child of a word; an empty element when there is none.
func (n *crsNode) find(word string) *crsNode {
	for _, c := range n.nodes {
		if c.word == word {
			return c
		}
	}
	return &crsNode{}
}

func (n *crsNode) name() string {
	if len(n.texts) == 0 {
		return ""
	}
	return n.texts[0]
}

// number is the i-th number; ok says that it is there.
func (n *crsNode) number(i int) (float64, bool) {
	if i >= len(n.numbers) {
		return 0, false
	}
	return n.numbers[i], true
}

// plain gives a name without case, blanks and marks, which programs write each
// in their own way.
func plain(name string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, strings.ToUpper(name))
}
