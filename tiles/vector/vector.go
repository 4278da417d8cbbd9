package vector

import (
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
}

// Info is what a file says about itself, beside its features.
type Info struct {
	Format string   // "GeoJSON", "KML", "KMZ", "GPX", "shapefile", "WKT" or "CSV"
	Datum  string   // "WGS 84", "NAD83"; empty when the file does not say
	Notes  []string // plain sentences for the user: what was left out or assumed
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
		return nil, Info{}, refuse(geojson.RuleEmpty, "file", "no shape in it"+b.notesText(), "draw the shapes and export the file again")
	}
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
	ending := strings.ToLower(filepath.Ext(f.Name))
	for _, format := range formats() {
		if slices.Contains(format.endings, ending) {
			if err := checkContent(sniff(f.Data), ending, format.content); err != nil {
				return err
			}
			return format.read(b, f)
		}
	}
	return refuse(RuleFormat, "file", "the ending "+quote(ending)+" is not one that can be read", "give one of "+strings.Join(Endings(), " "))
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
