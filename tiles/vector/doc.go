// Package vector reads the boundary and line files the trade hands over into
// features in degrees, longitude first: GeoJSON, KML and KMZ, GPX, shapefiles
// (alone or in a zip), WKT, and tables of corners (CSV).
//
// Nothing is guessed and nothing is fetched. A shapefile without its .prj, a
// projection that is not known here, a table without named columns are refused
// with what to do instead. What a file holds and a caller does not get is told
// in [Info.Notes]. Every error is a [*fault.Fault] with a place in the file.
//
// Limits, so that no file can fill the memory or run for ever: 128 MiB a file,
// 64 MiB inflated and 1,000 entries an archive, 1,000,000 positions, 100,000
// rings or lines, XML nested 100 deep; of a table 1 MiB and 1,000 columns a row
// and 5,000,000 cells.
//
// golang.org/x/text is at home here: it turns old character sets into UTF-8.
package vector
