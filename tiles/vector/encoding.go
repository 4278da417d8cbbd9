package vector

import (
	"fmt"
	"io"
	"strings"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/htmlindex"

	"groundsheet/tiles/geojson"
)

// charset finds a character set by a name as XML declarations, .cpg files and
// dBase drivers write it; nil for UTF-8. ISO-8859-1 is read as windows-1252,
// which has the same printable characters and more.
func charset(name string) (encoding.Encoding, bool) {
	plain := strings.NewReplacer("-", "", "_", "", " ", "", "/", "", "ANSI", "", "WINDOWS", "",
		"CP", "", "OEM", "").Replace(strings.ToUpper(strings.TrimSpace(name)))
	switch plain {
	case "UTF8", "65001", "USASCII", "ASCII":
		return nil, true
	case "ISO88591", "88591", "LATIN1", "1252", "LDID87", "LDID3":
		return charmap.Windows1252, true
	case "437", "LDID1":
		return charmap.CodePage437, true
	case "850", "LDID2":
		return charmap.CodePage850, true
	case "1250", "LDID200":
		return charmap.Windows1250, true
	}
	if e, err := htmlindex.Get(strings.TrimSpace(name)); err == nil { // by the names of the web, all others
		return e, true
	}
	return nil, false
}

// textIn gives the text of a file in its stated encoding, without a byte order mark.
func textIn(f File, data []byte) (string, error) {
	from, ok := charset(f.How.Encoding)
	if !ok {
		return "", unknownEncoding(f)
	}
	return strings.TrimPrefix(decode(from, data), "\uFEFF"), nil
}

// fromUTF16 gives a file that is stated to be in UTF-16 as UTF-8: what looks into
// its content takes it for no text.
func (f File) fromUTF16() File {
	if from, ok := charset(f.How.Encoding); ok && strings.HasPrefix(strings.ToLower(strings.TrimSpace(f.How.Encoding)), "utf-16") {
		f.Data, f.How.Encoding = []byte(strings.TrimPrefix(decode(from, f.Data), "\uFEFF")), "utf-8"
	}
	return f
}

func unknownEncoding(f File) error {
	return refuse(geojson.RuleEncoding, "encoding", "the character set "+quote(f.How.Encoding)+" is not known",
		`write a usual name, such as "windows-1252", "iso-8859-2", "utf-16le" or "cp437"`)
}

// decode turns bytes into valid UTF-8; invalid bytes become U+FFFD.
func decode(from encoding.Encoding, data []byte) string {
	if from != nil {
		if text, err := from.NewDecoder().Bytes(data); err == nil {
			data = text
		}
	}
	return strings.ToValidUTF8(string(data), "\uFFFD")
}

// charsetReader serves encoding/xml for declared character sets.
func charsetReader(name string, r io.Reader) (io.Reader, error) {
	from, ok := charset(name)
	if !ok {
		return nil, fmt.Errorf("the character set %s is not known", quote(name))
	}
	if from == nil {
		return r, nil
	}
	return from.NewDecoder().Reader(r), nil
}
