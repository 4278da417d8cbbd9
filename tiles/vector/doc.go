// Package vector reads the boundary and line files the trade hands over into
// features in degrees, longitude first: GeoJSON, KML and KMZ, GPX, shapefiles
// (alone or in a zip), GeoPackages, DXF drawings, WKT, and tables of corners (CSV);
// FlatGeobuf, MapInfo, DGN, GML and zipped file geodatabases through GDAL's ogr2ogr
// where it is installed.
//
// Nothing is guessed and nothing is fetched. What the numbers mean is in the file
// or stated for it ([How]); a file without both, a system that is not known here
// (package crs), several layers of which none is chosen, a table without named
// columns are refused with what to do instead. Coordinates stay on the datum of
// their system, which [Info.Datum] names. What a file holds and a caller does not
// get is told in [Info.Notes]. Every error is a [*fault.Fault] with a place in the
// file, or one of the disk.
//
// Where a person is to choose: [Layers] lists the layers and fields of a file,
// crs.At the coordinate systems of a place, crs.Fitting those that put a file's
// numbers near it.
//
// Limits, so that no file can fill the memory or run for ever: 128 MiB a file,
// 64 MiB inflated and 1,000 entries an archive, 1,000,000 positions, 100,000
// rings or lines, XML nested 100 deep; of a table 1 MiB and 1,000 columns a row
// and 5,000,000 cells.
//
// golang.org/x/text is at home here: it turns old character sets into UTF-8.
package vector
