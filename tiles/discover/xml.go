package discover

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
)

// deepest is how far elements of a capabilities document may be nested; layers
// in layers take two levels each.
const deepest = 100

// readXML reads a document into a struct. The name of a DTD is passed over and
// never fetched: WMS 1.1.1 asks for one (OGC 01-068r3, Annex A). Declarations
// of entities are refused, and only the five of XML itself are known.
func readXML(data []byte, into any) error {
	if err := checkXML(data); err != nil {
		return err
	}
	return decoder(data).Decode(into)
}

func decoder(data []byte) *xml.Decoder {
	d := xml.NewDecoder(bytes.NewReader(data))
	d.CharsetReader = charset
	return d
}

// checkXML walks the document once.
func checkXML(data []byte) error {
	d, depth := decoder(data), 0
	for {
		token, err := d.Token()
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return err
		}
		switch token := token.(type) {
		case xml.Directive:
			if strings.Contains(strings.ToUpper(string(token)), "ENTITY") {
				return errors.New("it declares entities of its own, which are not read")
			}
		case xml.StartElement:
			if depth++; depth > deepest {
				return fmt.Errorf("its elements are nested more than %d deep", deepest)
			}
		case xml.EndElement:
			depth--
		}
	}
}

// rootElement is the name of the first element, "" if it is not XML.
func rootElement(data []byte) string {
	d := decoder(data)
	for {
		token, err := d.Token()
		if err != nil {
			return ""
		}
		if start, ok := token.(xml.StartElement); ok {
			return start.Name.Local
		}
	}
}

// charset reads the character sets that services write besides UTF-8.
func charset(name string, r io.Reader) (io.Reader, error) {
	switch strings.ToUpper(strings.NewReplacer("-", "", "_", "").Replace(name)) {
	case "UTF8", "USASCII", "ASCII":
		return r, nil
	case "ISO88591", "LATIN1":
		data, err := io.ReadAll(r)
		if err != nil {
			return nil, err
		}
		var out strings.Builder
		for _, b := range data { // the first 256 characters of Unicode are those of ISO 8859-1
			out.WriteRune(rune(b))
		}
		return strings.NewReader(out.String()), nil
	}
	return nil, fmt.Errorf("the character set %s is not known", quote(name))
}

// exception is what an OGC service says instead of a document: OWS 1.1 (06-121r3,
// 8) or WMS (06-042, Annex A.3).
type exception struct {
	OWS []string `xml:"Exception>ExceptionText"`
	WMS []string `xml:"ServiceException"`
}

// exceptionText is the text of an exception; ok is false for other documents.
func exceptionText(data []byte) (words string, ok bool) {
	switch rootElement(data) {
	case "ExceptionReport", "ServiceExceptionReport":
	default:
		return "", false
	}
	var e exception
	if readXML(data, &e) != nil {
		return "an exception that cannot be read", true
	}
	return oneLine(strings.Join(append(e.OWS, e.WMS...), " "), 200), true
}
