package vector

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"groundsheet/tiles/geojson"
)

// File is one file as it was handed over.
type File struct {
	Name string // with its ending, which says the format
	Data []byte
	// Beside gives the side file of the same name with another ending, such as
	// ".prj" or ".dbf"; fs.ErrNotExist when there is none. May be nil: then
	// there are no side files.
	Beside func(ending string) ([]byte, error)
	How    How
}

// Info is what a file says about itself, beside its features.
type Info struct {
	Format string   // "GeoJSON", "KML", "KMZ", "GPX", "shapefile", "GeoPackage", "DXF", "WKT", "CSV" or a name of GDAL's
	Datum  string   // "WGS 84", "NAD83"; empty when the file does not say
	System string   // the coordinate system in words; empty for formats that are in degrees always
	Notes  []string // plain sentences for the user: what was left out or assumed
	Layers []string // names of what holds the shapes: folders and documents, the shapefile of an archive
}

// Want is the kind of shape the caller needs.
type Want int

// Interpretations of a table of corners or a closed track.
const (
	Areas    Want = iota // corners are outlines; tracks must be closed
	Lines                // corners are lines; tracks are lines
	Anything             // corners are points; tracks are lines, waypoints points
)

// format is one row of the table of formats.
type format struct {
	endings []string
	content []contentType // what may lie under such an ending
	read    func(*builder, File) error
}

func formats() []format {
	return []format{
		{[]string{".geojson", ".json"}, []contentType{isJSON}, (*builder).geojson},
		{[]string{".kml"}, []contentType{isXML, isZip}, (*builder).kml},
		{[]string{".kmz"}, []contentType{isZip}, (*builder).kmz},
		{[]string{".gpx"}, []contentType{isXML}, (*builder).gpx},
		{[]string{".shp"}, []contentType{isShape}, (*builder).shapefile},
		{[]string{".zip"}, []contentType{isZip}, (*builder).zipped},
		{[]string{".gpkg"}, []contentType{isSQLite}, (*builder).geopackage},
		{[]string{".dxf"}, []contentType{isText, isBinary}, (*builder).drawing},
		{[]string{".fgb", ".tab", ".mif", ".dgn", ".gml"}, []contentType{isText, isBinary, isXML}, (*builder).foreign},
		{[]string{".wkt"}, []contentType{isText}, (*builder).wkt},
		{[]string{".csv"}, []contentType{isText}, (*builder).csv},
		{[]string{".txt"}, []contentType{isText}, (*builder).text},
	}
}

// Endings lists the endings of the files [Read] takes, with their dot.
func Endings() []string {
	var all []string
	for _, f := range formats() {
		all = append(all, f.endings...)
	}
	return all
}

// Read reads a file into features: degrees, longitude first, on the datum of
// [Info.Datum]. The ending of the name says the format, and the content must
// agree. The error is a [*fault.Fault]; a file without a shape is one too.
//
// Properties are as package geojson has them; those of KML, GPX and CSV are
// all text.
func Read(f File, want Want) ([]geojson.Feature, Info, error) {
	b := &builder{want: want}
	if err := b.read(f); err != nil {
		return nil, Info{}, err
	}
	if len(b.features) == 0 {
		return nil, Info{}, refuse(geojson.RuleEmpty, "file", "no shape in it"+b.notesText(),
			"draw the shapes and export the file again")
	}
	b.noteElsewhere()
	return b.features, b.info, nil
}

func (b *builder) read(f File) error {
	switch {
	case len(f.Data) == 0:
		return refuse(geojson.RuleEmpty, "file", "the file is empty", "export the shapes again")
	case len(f.Data) > MaxBytes:
		return refuse(geojson.RuleSize, "file", sizes("the file has %d MiB; %d is the most", len(f.Data), MaxBytes),
			"simplify the shapes or split the file")
	}
	f = f.fromUTF16()
	ending := strings.ToLower(filepath.Ext(f.Name))
	for _, format := range formats() {
		if slices.Contains(format.endings, ending) {
			if err := checkContent(sniff(f.Data), ending, format.content); err != nil {
				return err
			}
			if err := CheckHow(f); err != nil {
				return err
			}
			return format.read(b, f)
		}
	}
	return unread(ending)
}

func (b *builder) geojson(f File) error {
	b.info.Format, b.info.Datum = "GeoJSON", wgs84
	features, err := geojson.Read(f.Data)
	if err != nil {
		return err
	}
	for _, feature := range features {
		if err := b.add(feature); err != nil {
			return err
		}
	}
	return nil
}

// text reads a .txt, which may hold WKT or a table.
func (b *builder) text(f File) error {
	if looksLikeWKT(f.Data) {
		return b.wkt(f)
	}
	return b.csv(f)
}

// Open reads a file from disk for [Read]. Its side files are those of the same
// folder and name, whatever the case of their ending. A file that is not there
// is an error of package os.
func Open(name string) (File, error) {
	info, err := os.Stat(name)
	if err != nil {
		return File{}, err
	}
	if info.IsDir() {
		return File{}, refuse(RuleFormat, name, "it is a folder", "give a file")
	}
	if info.Size() > MaxBytes {
		return File{}, refuse(geojson.RuleSize, name, fmt.Sprintf("the file has %d MiB; %d is the most",
			info.Size()>>20, MaxBytes>>20),
			"simplify the shapes or split the file")
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return File{}, err
	}
	near := func(ending string) ([]byte, error) { return beside(name, ending) }
	return File{Name: filepath.Base(name), Data: data, Beside: near}, nil
}

func beside(name, ending string) ([]byte, error) {
	want := strings.TrimSuffix(filepath.Base(name), filepath.Ext(name)) + ending
	entries, err := os.ReadDir(filepath.Dir(name))
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		if strings.EqualFold(e.Name(), want) && !e.IsDir() {
			return readSide(filepath.Join(filepath.Dir(name), e.Name()))
		}
	}
	return nil, fmt.Errorf("%s: %w", want, fs.ErrNotExist)
}

func readSide(name string) ([]byte, error) {
	info, err := os.Stat(name)
	if err != nil {
		return nil, err
	}
	if info.Size() > MaxBytes {
		return nil, fmt.Errorf("it has %d MiB; %d is the most", info.Size()>>20, MaxBytes>>20)
	}
	return os.ReadFile(name)
}

// contentType is what a file looks like inside, whatever its name.
type contentType string

const (
	isZip    contentType = "a zip archive"
	isShape  contentType = "a shapefile"
	isXML    contentType = "XML"
	isJSON   contentType = "JSON"
	isSQLite contentType = "an SQLite database"
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
	case bytes.HasPrefix(head, []byte("SQLite format 3\x00")):
		return isSQLite
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
