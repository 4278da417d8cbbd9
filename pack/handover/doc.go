// Package handover writes what a field book holds in the forms that clients take:
// GeoJSON, GeoPackage, KML and KMZ, GPX, shapefiles, CSV and DXF, with the photos and a
// text to be read first.
//
// What goes along is a list of finds: each with its place, and with the same fields in
// every form, so that one list of fields explains all of them. A field that was not
// stated is empty, in each form's own way; nothing is filled in and nothing is rounded
// to look better. What a form cannot hold is told in the text that goes along.
//
// Coordinates are those that were recorded, which are taken for WGS 84 where nothing
// else is stated. Numbers go onto another datum only by a shift that is asked for, and
// each find says what its coordinates are on.
//
// The same books and options give the same bytes: times are those of the books.
package handover
