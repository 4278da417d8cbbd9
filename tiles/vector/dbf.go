package vector

import (
	"cmp"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"

	"golang.org/x/text/encoding"
)

// A dBase III table: a header of 32 bytes, 32 for each field, one 0x0D, then
// rows of fixed length whose first byte marks deleted ones.
const (
	dbfHeader = 32
	dbfField  = 32
	dbfEnd    = 0x0d
)

const checkDBF = "export the shapefile again, or take the .dbf away to read the shapes alone"

type dbf struct {
	rows   int
	length int // of a row
	data   []byte
	fields []dbfColumn
	from   encoding.Encoding // nil for UTF-8
}

type dbfColumn struct {
	name     string
	kind     byte
	at, size int
}

// attributes reads the .dbf beside a shapefile; nil when there is none.
func (b *builder) attributes(f File) (*dbf, error) {
	data, err := sideFile(f, ".dbf")
	if err != nil {
		return nil, err
	}
	if data == nil {
		b.note("There is no .dbf beside the shapes, so they have no attributes.")
		return nil, nil
	}
	page, err := sideFile(f, ".cpg")
	if err != nil {
		return nil, err
	}
	t, err := openDBF(data)
	if err != nil {
		return nil, err
	}
	name := cmp.Or(f.How.Encoding, strings.TrimSpace(string(withoutMark(page))))
	if name == "" {
		name = "ISO-8859-1"
		if _, ok := charset(fmt.Sprintf("LDID%d", data[29])); ok { // the language driver
			name = fmt.Sprintf("LDID%d", data[29])
		}
	}
	from, ok := charset(name)
	if !ok && f.How.Encoding != "" {
		return nil, unknownEncoding(f)
	}
	if !ok {
		b.note("The character set %s of the .dbf is not known here; its text was read as ISO-8859-1.", quote(name))
		from, _ = charset("ISO-8859-1")
	}
	t.from = from
	for i := range t.fields {
		t.fields[i].name = decode(from, []byte(t.fields[i].name))
		if !strings.ContainsRune("CNFLD", rune(t.fields[i].kind)) {
			b.note("The column %s of the .dbf was left out: its type %s is not known here.", quote(t.fields[i].name),
				quote(string(rune(t.fields[i].kind))))
		}
	}
	return t, nil
}

func openDBF(data []byte) (*dbf, error) {
	bad := func(format string, args ...any) (*dbf, error) {
		return nil, refuse(RuleAttributes, ".dbf", fmt.Sprintf(format, args...), checkDBF)
	}
	if len(data) < dbfHeader || data[0]&7 != 3 {
		return bad("not a dBase III table")
	}
	rows := int64(binary.LittleEndian.Uint32(data[4:]))
	header := int(binary.LittleEndian.Uint16(data[8:]))
	length := int(binary.LittleEndian.Uint16(data[10:]))
	if header < dbfHeader+1 || header > len(data) || length < 1 {
		return bad("the header contradicts the file")
	}
	if room := int64(len(data) - header); rows*int64(length) > room {
		return bad("it claims %d rows of %d bytes and has %d bytes for them", rows, length, room)
	}
	t := &dbf{rows: int(rows), length: length, data: data[header:]}
	taken := map[string]int{}
	at := 1
	for i := dbfHeader; i+dbfField <= header && data[i] != dbfEnd; i += dbfField {
		name, _, _ := strings.Cut(string(data[i:i+11]), "\x00")
		name = strings.TrimSpace(name)
		if taken[name]++; taken[name] > 1 {
			name = fmt.Sprintf("%s_%d", name, taken[name])
		}
		c := dbfColumn{name: name, kind: data[i+11], at: at, size: int(data[i+16])}
		if at += c.size; at > length {
			return bad("the columns are wider than a row")
		}
		t.fields = append(t.fields, c)
	}
	return t, nil
}

// row reads the attributes of a record; number counts from 0.
func (t *dbf) row(number int, place string) (properties map[string]any, deleted bool, err error) {
	raw := t.data[number*t.length:][:t.length]
	if raw[0] == '*' {
		return nil, true, nil
	}
	properties = make(map[string]any, len(t.fields))
	for _, f := range t.fields {
		if !strings.ContainsRune("CNFLD", rune(f.kind)) {
			continue
		}
		v, ok := f.value(raw[f.at:f.at+f.size], t.from)
		if !ok {
			return nil, false, refuse(RuleAttributes, fmt.Sprintf("%s, column %s", place, quote(f.name)),
				quote(string(raw[f.at:f.at+f.size]))+" is not a number", checkDBF)
		}
		properties[f.name] = v
	}
	return properties, false, nil
}

// value reads one field; nil for what a table leaves open.
func (f dbfColumn) value(raw []byte, from encoding.Encoding) (any, bool) {
	text := strings.Trim(string(raw), " \x00")
	switch f.kind {
	case 'N', 'F':
		return decimal(text)
	case 'L':
		switch text {
		case "T", "t", "Y", "y":
			return true, true
		case "F", "f", "N", "n":
			return false, true
		}
		return nil, true
	case 'D':
		if text == "00000000" {
			return nil, true
		}
		if len(text) == 8 && strings.Trim(text, "0123456789") == "" {
			return text[:4] + "-" + text[4:6] + "-" + text[6:], true
		}
	}
	if text == "" {
		return nil, true
	}
	return decode(from, []byte(text)), true
}

// decimal reads a number field: float64, or json.Number where that would lose
// digits of a whole number. Asterisks and "nan" are how programs write that a
// value is missing or did not fit.
func decimal(text string) (any, bool) {
	if strings.Trim(text, "*") == "" || strings.EqualFold(text, "nan") {
		return nil, true
	}
	v, ok := number(text)
	if !ok {
		return nil, false
	}
	const exactWhole = 1 << 53
	if math.Abs(v) < exactWhole {
		return v, true
	}
	if whole, err := strconv.ParseInt(text, 10, 64); err == nil {
		return json.Number(strconv.FormatInt(whole, 10)), true
	}
	return v, true
}

// mismatch says that rows and shapes do not belong together.
func (t *dbf) mismatch() error {
	return refuse(RuleAttributes, ".dbf", fmt.Sprintf("its %d rows are not as many as the records of the .shp",
		t.rows), checkDBF)
}
