package vector

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"path"
	"strings"

	"groundsheet/tiles/crs"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
)

// The main file, after the white paper of July 1998: a header of 100 bytes,
// then records of 8 bytes of header and their content.
const (
	shpHeader    = 100
	recordHeader = 8
	fileCode     = 9994
	shpVersion   = 1000
)

const exportAgain = "export the shapefile again"

// shapefile reads a .shp with its .prj, and its .dbf when there is one.
func (b *builder) shapefile(f File) error {
	b.info.Format = "shapefile"
	if err := b.projection(f); err != nil {
		return err
	}
	s := &shapeReader{builder: b}
	if err := s.header(f.Data); err != nil {
		return err
	}
	table, err := b.attributes(f)
	if err != nil {
		return err
	}
	if err := s.records(f.Data, table); err != nil {
		return err
	}
	s.noteLeftOut(s.null, "record", "without a shape")
	s.noteLeftOut(s.deleted, "record", "marked as deleted in the .dbf")
	return nil
}

// sideFile reads a sideFile file; nil when there is none.
func sideFile(f File, ending string) ([]byte, error) {
	if f.Beside == nil {
		return nil, nil
	}
	data, err := f.Beside(ending)
	var known *fault.Fault
	switch {
	case errors.As(err, &known):
		return nil, err
	case errors.Is(err, fs.ErrNotExist):
		return nil, nil
	case err != nil:
		return nil, refuse(RuleSide, ending, "it cannot be read: "+err.Error(), "check the file beside the .shp")
	case len(data) > MaxBytes:
		return nil, refuse(geojson.RuleSize, ending, sizes("the file has %d MiB; %d is the most", len(data), MaxBytes),
			"split the file")
	}
	return data, nil
}

// projection reads the .prj beside a shapefile.
func (b *builder) projection(f File) error {
	text, err := sideFile(f, ".prj")
	if err != nil {
		return err
	}
	var own *crs.System
	if len(text) > 0 {
		s, heights, err := ownSystem(decode(nil, withoutMark(text)), ".prj")
		if err != nil {
			return err
		}
		if own = &s; heights {
			b.note("The .prj names a vertical system; heights are left out.")
		}
	} else if f.How.EPSG == 0 {
		return refuse(RuleProjection, ".prj", "there is none beside the .shp, so what its numbers mean is not known",
			"hand over the .prj of the same name too (or all files in one .zip), or state the coordinate system: epsg = 2231, for instance")
	}
	_, err = b.settle(f, own, ".prj")
	return err
}

type shapeReader struct {
	*builder
	kind          uint32 // of all records that are not null
	null, deleted int
}

// header checks the header against the file.
func (s *shapeReader) header(data []byte) error {
	if len(data) < shpHeader || binary.BigEndian.Uint32(data) != fileCode {
		return refuse(RuleFormat, "header", "not the main file of a shapefile", exportAgain)
	}
	if v := binary.LittleEndian.Uint32(data[28:]); v != shpVersion {
		return refuse(RuleFormat, "header", fmt.Sprintf("version %d is not known", v), exportAgain)
	}
	if says := int64(binary.BigEndian.Uint32(data[24:])) * 2; says != int64(len(data)) {
		return refuse(RuleRecord, "header", fmt.Sprintf("the file should have %d bytes and has %d: it is cut off or damaged", says, len(data)),
			"copy or export the shapefile again")
	}
	s.kind = binary.LittleEndian.Uint32(data[32:])
	switch s.kind {
	case 0, 1, 3, 5, 8, 11, 13, 15, 18, 21, 23, 25, 28:
		return nil
	case 31:
		return refuse(RuleRecord, "header", "the shapes are multipatches (surfaces in space)",
			"export outlines or lines instead")
	}
	return refuse(RuleRecord, "header", fmt.Sprintf("shape type %d is not known", s.kind), exportAgain)
}

// records reads all records. table may be nil.
func (s *shapeReader) records(data []byte, table *dbf) error {
	number := 0
	for at := shpHeader; at < len(data); number++ {
		place := fmt.Sprintf("record %d", number+1)
		if len(data)-at < recordHeader {
			return refuse(RuleRecord, place, "the file ends inside its header", exportAgain)
		}
		length := int64(binary.BigEndian.Uint32(data[at+4:])) * 2
		at += recordHeader
		if length < 4 || length > int64(len(data)-at) {
			return refuse(RuleRecord, place, fmt.Sprintf("it claims %d bytes, and the file has %d more", length,
				len(data)-at), exportAgain)
		}
		if table != nil && number >= table.rows {
			return table.mismatch()
		}
		if err := s.record(data[at:at+int(length)], number, table, place); err != nil {
			return err
		}
		at += int(length)
	}
	if table != nil && table.rows != number {
		return table.mismatch()
	}
	return nil
}

// record reads one record and its row of attributes.
func (s *shapeReader) record(content []byte, number int, table *dbf, place string) error {
	kind := binary.LittleEndian.Uint32(content)
	if kind != 0 && kind != s.kind {
		return refuse(RuleRecord, place, fmt.Sprintf("shape type %d in a file of type %d", kind, s.kind), exportAgain)
	}
	var properties map[string]any
	if table != nil {
		row, deleted, err := table.row(number, place)
		if err != nil {
			return err
		}
		if deleted {
			s.deleted++
			return nil
		}
		properties = row
	}
	g, err := s.shape(kind%10, content[4:], place)
	if err != nil {
		return err
	}
	if g == nil {
		s.null++
		return nil
	}
	return s.add(geojson.Feature{Geometry: g, Properties: properties, Place: place})
}

func double(b []byte) float64 { return math.Float64frombits(binary.LittleEndian.Uint64(b)) }

// zipped reads the one shapefile in an archive.
func (b *builder) zipped(f File) error {
	a, err := openArchive(f.Data)
	if err != nil {
		return err
	}
	if isGeodatabase(a) {
		return b.through(geodatabase, f)
	}
	if len(f.How.Layers) > 0 {
		return refuse(RuleLayer, "layer", "a shapefile has no layers to choose from", "take layer out")
	}
	all := a.ending(".shp")
	if len(all) != 1 {
		var names []string
		for _, f := range all {
			names = append(names, f.Name)
		}
		detail := fmt.Sprintf("%d shapefiles in the archive: %s", len(all), quote(strings.Join(names, ", ")))
		if len(all) == 0 {
			detail = "no shapefile (.shp) in the archive"
		}
		return refuse(RuleArchive, "file", detail,
			"pack exactly one, with its .prj and .dbf; other formats are read without a .zip")
	}
	data, err := a.read(all[0])
	if err != nil {
		return err
	}
	if got := sniff(data); got != isShape {
		return refuse(RuleFormat, "entry "+quote(all[0].Name), "the content is "+string(got), exportAgain)
	}
	beside := func(ending string) ([]byte, error) {
		if entry := a.beside(all[0], ending); entry != nil {
			return a.read(entry)
		}
		return nil, fs.ErrNotExist
	}
	b.info.Layers = []string{strings.TrimSuffix(path.Base(all[0].Name), path.Ext(all[0].Name))}
	return b.shapefile(File{Name: all[0].Name, Data: data, Beside: beside, How: f.How})
}
