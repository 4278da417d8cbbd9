// Package geojson reads RFC 7946 strictly into orb geometry and writes it back.
//
// It decodes with encoding/json and not with orb/geojson, which takes open
// rings and one-number positions in silence and brings a BSON package along.
//
// Errors are a [*fault.Fault]: the rule it broke, the place
// in the text and what to do. Places count from 1 ("feature 2, polygon 1,
// ring 1, position 4"). Nothing is mended and nothing is dropped in silence;
// only members the standard lets a reader ignore are ignored: foreign members,
// bbox, and the third and further numbers of a position (height). The winding
// of rings is not enforced (RFC 7946, 3.1.6).
package geojson
