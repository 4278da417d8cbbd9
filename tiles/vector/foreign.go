package vector

import (
	"archive/zip"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/gdal"
	"groundsheet/tiles/geojson"
)

// foreign is a form that GDAL's ogr2ogr reads for us.
type foreign struct {
	ending string
	driver string   // of GDAL; all others are switched off
	sides  []string // endings of the files beside it that belong to it
}

var foreigners = []foreign{
	{".fgb", "FlatGeobuf", nil},
	{".tab", "MapInfo File", []string{".dat", ".map", ".id", ".ind"}},
	{".mif", "MapInfo File", []string{".mid"}},
	{".dgn", "DGN", nil},
	{".gml", "GML", []string{".xsd", ".gfs"}},
}

// geodatabase is a folder *.gdb packed into a .zip.
var geodatabase = foreign{".gdb.zip", "OpenFileGDB", nil}

func findForeign(name string) (foreign, bool) {
	ending := strings.ToLower(filepath.Ext(name))
	i := slices.IndexFunc(foreigners, func(f foreign) bool { return f.ending == ending })
	if i < 0 {
		return foreign{}, false
	}
	return foreigners[i], true
}

// SideFiles are the endings of the files that belong to one with this ending, and
// have to go with it.
func SideFiles(ending string) []string {
	if ending = strings.ToLower(ending); ending == ".shp" {
		return []string{".prj", ".dbf", ".shx", ".cpg"}
	}
	f, _ := findForeign("x" + ending)
	return f.sides
}

// foreign reads a file through ogr2ogr.
func (b *builder) foreign(f File) error {
	kind, _ := findForeign(f.Name)
	return b.through(kind, f)
}

func (b *builder) through(kind foreign, f File) error {
	converted, err := convert(kind, f)
	if err != nil {
		return err
	}
	if err := b.geopackage(converted); err != nil {
		return err
	}
	b.info.Format = kind.driver
	b.note("The file was read by GDAL's ogr2ogr, which kept its coordinates as they are.")
	return nil
}

// patience is how long a conversion may take.
const patience = 2 * time.Minute

// convert has ogr2ogr write a GeoPackage of the same layers, fields and coordinates:
// nothing is projected or shifted by it. All of it happens in a folder that is
// removed at once.
func convert(kind foreign, f File) (out File, err error) {
	ctx, stop := context.WithTimeout(context.Background(), patience)
	defer stop()
	tools, err := gdal.Open(ctx, gdal.Needs{
		Programs: []string{"ogr2ogr"}, Lister: "ogr2ogr", Purpose: kind.ending + " files are read", Formats: []string{kind.driver, "GPKG", "Memory"},
	})
	if err != nil {
		return File{}, err
	}
	defer func() { err = errors.Join(err, tools.Close()) }()
	in := filepath.Join(tools.Dir, "in"+kind.ending)
	if err := writeInput(in, kind, f); err != nil {
		return File{}, err
	}
	to := filepath.Join(tools.Dir, "out.gpkg")
	_, err = tools.Run(ctx, gdal.Child{Program: "ogr2ogr", Args: []string{
		"-f", "GPKG", "-nlt", "CONVERT_TO_LINEAR", "-dim", "XY", "-lco", "SPATIAL_INDEX=NO", "-limit", fmt.Sprint(geojson.MaxPositions + 1),
		"--config", "OGR_SQLITE_SYNCHRONOUS", "OFF", "--config", "GML_SKIP_RESOLVE_ELEMS", "ALL", "--config", "GML_DOWNLOAD_SCHEMA", "NO", to, in,
	}})
	switch {
	case errors.Is(err, context.DeadlineExceeded):
		return File{}, refuse(geojson.RuleSize, "file", fmt.Sprintf("ogr2ogr needs longer than %v for it", patience), "split the file, or export it as GeoPackage")
	case err != nil:
		return File{}, refuse(RuleFormat, "file", "ogr2ogr cannot read it: "+err.Error(), "export it again, as GeoPackage for instance")
	}
	info, err := os.Stat(to)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return File{}, refuse(geojson.RuleEmpty, "file", "no layer with shapes in it", "export the shapes again")
	case err != nil:
		return File{}, err
	case info.Size() > MaxBytes:
		return File{}, refuse(geojson.RuleSize, "file", sizes("as a GeoPackage it has %d MiB; %d is the most", int(info.Size()), MaxBytes), "split the file")
	}
	data, err := os.ReadFile(to)
	return File{Name: f.Name, Data: data, How: f.How}, err
}

// writeInput puts a file and what belongs to it into the folder of the program.
func writeInput(in string, kind foreign, f File) error {
	err := os.WriteFile(in, f.Data, 0o600)
	for _, side := range kind.sides {
		if err != nil {
			return err
		}
		var data []byte
		if data, err = sideFile(f, side); err == nil && data != nil {
			err = os.WriteFile(strings.TrimSuffix(in, kind.ending)+side, data, 0o600)
		}
	}
	return err
}

// foreignLayers lists the layers of a file that ogr2ogr reads.
func foreignLayers(kind foreign, f File) ([]Layer, error) {
	converted, err := convert(kind, f)
	if err != nil {
		return nil, err
	}
	return geopackageLayers(converted)
}

// isGeodatabase says whether an archive holds a file geodatabase.
func isGeodatabase(a *archive) bool {
	return slices.ContainsFunc(a.files, func(entry *zip.File) bool { return strings.Contains(strings.ToLower(entry.Name), ".gdb/") })
}

// unread says what to do with forms that are common and not read.
func unread(ending string) *fault.Fault {
	switch ending {
	case ".dwg":
		return refuse(RuleFormat, "file", "a DWG is not read", "save the drawing as ASCII DXF (release 2000 to 2018)")
	case ".gdb":
		return refuse(RuleFormat, "file", "a geodatabase is a folder", "pack the whole folder *.gdb into one .zip, and give that")
	case ".xlsx", ".xls", ".ods":
		return refuse(RuleFormat, "file", "a workbook is not read", "save the sheet as CSV")
	}
	return refuse(RuleFormat, "file", "the ending "+quote(ending)+" is not one that can be read",
		"give one of "+strings.Join(Endings(), " "))
}
