package vector

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"

	"groundsheet/tiles/geojson"
)

// xmlReader reads XML within limits. Document types, and with them entities of
// the file's own, are refused: KML and GPX have none, and they are the classic
// way to make a small text grow without end.
type xmlReader struct {
	d             *xml.Decoder
	tokens, depth int
}

func newMarkup(data []byte) *xmlReader {
	d := xml.NewDecoder(bytes.NewReader(withoutMark(data)))
	d.CharsetReader = charsetReader
	return &xmlReader{d: d}
}

func (m *xmlReader) place() string {
	line, _ := m.d.InputPos()
	return fmt.Sprintf("line %d", line)
}

// next gives a token; io.EOF at the end of the text.
func (m *xmlReader) next() (xml.Token, error) {
	token, err := m.d.Token()
	switch {
	case errors.Is(err, io.EOF):
		return nil, err
	case err != nil:
		return nil, refuse(RuleXML, m.place(), "not XML: "+strings.TrimPrefix(err.Error(), "XML syntax error on "),
			"export the file again as UTF-8")
	}
	if m.tokens++; m.tokens > maxTokens {
		return nil, refuse(geojson.RuleSize, m.place(), fmt.Sprintf("more than %d pieces of XML", maxTokens),
			"split the file")
	}
	if _, ok := token.(xml.Directive); ok {
		return nil, refuse(RuleXML, m.place(), "a document type declaration, which these formats do not have",
			"export the file again without it")
	}
	return token, nil
}

// root finds the first element.
func (m *xmlReader) root() (xml.StartElement, error) {
	for {
		token, err := m.next()
		if errors.Is(err, io.EOF) {
			return xml.StartElement{}, refuse(RuleXML, "file", "no element in it", "export the file again")
		}
		if err != nil {
			return xml.StartElement{}, err
		}
		if start, ok := token.(xml.StartElement); ok {
			return start, nil
		}
	}
}

// end makes sure that nothing follows the root element.
func (m *xmlReader) end() error {
	for {
		token, err := m.next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if _, ok := token.(xml.StartElement); ok {
			return refuse(RuleXML, m.place(), "a second root element", "export the file again")
		}
	}
}

// children gives each child of the element just begun, until its end. visit
// must read to the end of its child.
func (m *xmlReader) children(visit func(xml.StartElement) error) error {
	return m.inside(visit, func(string) {})
}

// inside is children with the text between them.
func (m *xmlReader) inside(visit func(xml.StartElement) error, text func(string)) error {
	if m.depth++; m.depth > MaxDepth {
		return refuse(geojson.RuleNesting, m.place(), fmt.Sprintf("elements nested more than %d deep", MaxDepth),
			"export the file again with fewer folders in folders")
	}
	defer func() { m.depth-- }()
	for {
		token, err := m.next()
		if err != nil { // encoding/xml reports a missing end itself
			return err
		}
		switch token := token.(type) {
		case xml.StartElement:
			if err := visit(token); err != nil {
				return err
			}
		case xml.CharData:
			text(string(token))
		case xml.EndElement:
			return nil
		}
	}
}

// skip reads to the end of the element just begun.
func (m *xmlReader) skip() error {
	return m.children(func(xml.StartElement) error { return m.skip() })
}

// node is an element with all that is in it.
type node struct {
	name     string // without its namespace
	attrs    []xml.Attr
	text     string // its own, without that of its children, and without blanks around it
	children []*node
	line     int
}

// node reads the element just begun.
func (m *xmlReader) node(start xml.StartElement) (*node, error) {
	left := maxElements
	return m.branch(start, &left)
}

func (m *xmlReader) branch(start xml.StartElement, left *int) (*node, error) {
	if *left--; *left < 0 {
		return nil, refuse(geojson.RuleSize, m.place(), fmt.Sprintf("more than %d elements in one", maxElements),
			"split the file")
	}
	line, _ := m.d.InputPos()
	n := &node{name: start.Name.Local, attrs: start.Attr, line: line}
	var text strings.Builder
	err := m.inside(func(child xml.StartElement) error {
		c, err := m.branch(child, left)
		n.children = append(n.children, c)
		return err
	}, func(s string) { text.WriteString(s) })
	n.text = strings.TrimSpace(text.String())
	return n, err
}

// child is the first child of a name; nil when there is none.
func (n *node) child(name string) *node {
	for _, c := range n.children {
		if c.name == name {
			return c
		}
	}
	return nil
}

// textOf is the text of the first child of a name, "" when there is none.
func (n *node) textOf(name string) string {
	if c := n.child(name); c != nil {
		return c.text
	}
	return ""
}

// attribute is the value of an attribute, "" when there is none.
func attribute(attrs []xml.Attr, name string) string {
	for _, a := range attrs {
		if a.Name.Local == name {
			return strings.TrimSpace(a.Value)
		}
	}
	return ""
}
