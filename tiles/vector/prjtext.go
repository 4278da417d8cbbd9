package vector

import (
	"fmt"
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
	n, err := p.node(0)
	if err != nil {
		return nil, "", fmt.Errorf("%w at character %d", err, p.at+1)
	}
	return n, strings.Trim(text[p.at:], " \t\r\n\x00"), nil
}

func (p *crsParser) blank() {
	for p.at < len(p.text) && strings.IndexByte(" \t\r\n", p.text[p.at]) >= 0 {
		p.at++
	}
}

// upTo takes what stands before one of the stops.
func (p *crsParser) upTo(stops string) string {
	from := p.at
	if i := strings.IndexAny(p.text[from:], stops); i >= 0 {
		p.at += i
	} else {
		p.at = len(p.text)
	}
	return strings.TrimSpace(p.text[from:p.at])
}

func (p *crsParser) node(depth int) (*crsNode, error) {
	if depth > maxCRSDepth {
		return nil, fmt.Errorf("nested too deep")
	}
	p.blank()
	word := p.upTo("[(,])\"")
	if word == "" || p.at == len(p.text) || p.text[p.at] != '[' && p.text[p.at] != '(' {
		return nil, fmt.Errorf("not well-known text")
	}
	p.at++
	n := &crsNode{word: strings.ToUpper(word)}
	for {
		if err := p.argument(n, depth); err != nil {
			return nil, err
		}
		p.blank()
		if p.at == len(p.text) {
			return nil, fmt.Errorf("the text ends too soon")
		}
		c := p.text[p.at]
		p.at++
		switch c {
		case ',':
		case ']', ')':
			return n, nil
		default:
			return nil, fmt.Errorf("not well-known text")
		}
	}
}

// argument reads a quoted text, a number, a bare word or an element.
func (p *crsParser) argument(n *crsNode, depth int) error {
	p.blank()
	if p.at < len(p.text) && p.text[p.at] == '"' {
		p.at++
		text := p.upTo("\"")
		if p.at == len(p.text) {
			return fmt.Errorf("a quote that is not closed")
		}
		p.at++
		n.texts = append(n.texts, text)
		return nil
	}
	from := p.at
	bare := p.upTo("[(,])\"")
	if p.at < len(p.text) && (p.text[p.at] == '[' || p.text[p.at] == '(') {
		p.at = from
		inner, err := p.node(depth + 1)
		n.nodes = append(n.nodes, inner)
		return err
	}
	if v, ok := number(bare); ok {
		n.numbers = append(n.numbers, v)
	}
	return nil
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
