package vector

import (
	"bytes"
	"slices"

	"groundsheet/tiles/geojson"
)

// contentType is what a file looks like inside, whatever its name.
type contentType string

const (
	isZip    contentType = "a zip archive"
	isShape  contentType = "a shapefile"
	isXML    contentType = "XML"
	isJSON   contentType = "JSON"
	isText   contentType = "plain text"
	isUTF16  contentType = "text in UTF-16"
	isBinary contentType = "neither text nor a known format"
)

// sniffed is how many bytes tell text from other content.
const sniffed = 8 << 10

func sniff(data []byte) contentType {
	head := data[:min(len(data), sniffed)]
	switch {
	case bytes.HasPrefix(head, []byte("PK\x03\x04")), bytes.HasPrefix(head, []byte("PK\x05\x06")):
		return isZip
	case bytes.HasPrefix(head, []byte{0, 0, 0x27, 0x0a}): // file code 9994
		return isShape
	case bytes.HasPrefix(head, []byte("\xff\xfe")), bytes.HasPrefix(head, []byte("\xfe\xff")),
		bytes.HasPrefix(head, []byte("<\x00")), bytes.HasPrefix(head, []byte("\x00<")):
		return isUTF16
	case bytes.IndexByte(head, 0) >= 0:
		return isBinary
	}
	switch text := bytes.TrimSpace(withoutMark(head)); {
	case bytes.HasPrefix(text, []byte("<")):
		return isXML
	case bytes.HasPrefix(text, []byte("{")), bytes.HasPrefix(text, []byte("[")):
		return isJSON
	}
	return isText
}

// withoutMark takes off the byte order mark of UTF-8.
func withoutMark(data []byte) []byte { return bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")) }

func checkContent(got contentType, ending string, fits []contentType) error {
	switch {
	case slices.Contains(fits, got):
		return nil
	case got == isUTF16:
		return refuse(geojson.RuleEncoding, "file", "the text is in UTF-16", "save the file as UTF-8")
	case got == isText && fits[0] == isJSON:
		return nil // the JSON reader says where the text goes wrong
	}
	return refuse(RuleFormat, "file", "the name ends in "+ending+", but the content is "+string(got),
		"give the file the ending of its content, or export it again")
}
