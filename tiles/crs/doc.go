// Package crs says what the numbers of a file mean: it resolves a number of the
// EPSG registry, or the text of a .prj (WKT 1 as OGC and ESRI write it, WKT 2),
// to a projection, a datum and a unit, and turns coordinates into degrees.
//
// Degrees stay on the datum of the system: nothing is ever shifted here, and
// the datum is named. Systems are read whose datum lies within a few meters of
// WGS 84; every other (NAD27 and most older national datums, up to a hundred
// meters or more away) is refused with what to do. The projections are our own
// few formulas: transverse Mercator (package geodesic), Lambert and Albers
// conics, Hotine's oblique Mercator, Web Mercator. That is all that State Plane,
// UTM and most national grids need. The tests compare every system of the table
// with PROJ.
package crs
