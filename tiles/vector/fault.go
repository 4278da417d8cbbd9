package vector

import (
	"errors"
	"fmt"
	"strings"

	"groundsheet/tiles/geojson"
)

// Fault says which rule a file breaks, where, and what to do.
type Fault = geojson.Fault

// Rules of files, beside those of package geojson.
const (
	RuleFormat     = "format"        // an unknown ending, or content that does not fit it
	RuleArchive    = "archive"       // a zip that cannot be read, or holds the wrong things
	RuleXML        = "xml"           // not XML, or XML with a document type
	RuleLink       = "link"          // nothing but links to shapes elsewhere
	RuleClosed     = "closed"        // a track that does not come back to where it began
	RuleRecord     = "record"        // a shapefile record that contradicts itself or its file
	RuleAttributes = "attributes"    // a .dbf that cannot be read, or does not fit its shapes
	RuleProjection = geojson.RuleCRS // no coordinate reference system, or one not known here
	RuleWKT        = "wkt"           // not well-known text
	RuleTable      = "table"         // a table without the columns, or with rows, that give a position
	RuleSide       = "side file"     // a side file that is there and cannot be read
)

// Limits of what is read.
const (
	MaxBytes    = 128 << 20 // of one file
	MaxInflated = 64 << 20  // bytes read out of one archive
	MaxEntries  = 1_000     // of one archive
	MaxParts    = 100_000   // rings, lines and features of single points in one file
	MaxDepth    = 100       // of nested XML elements
	maxTokens   = 20_000_000
	maxElements = 500_000 // of one placemark
)

func fault(rule, place, detail, remedy string) *Fault {
	return &Fault{Rule: rule, Place: place, Detail: detail, Remedy: remedy}
}

// within puts a place before the place of a fault.
func within(place string, err error) error {
	var f *Fault
	if place == "" || !errors.As(err, &f) {
		return err
	}
	moved := *f
	moved.Place = place
	if f.Place != "" {
		moved.Place += ", " + f.Place
	}
	return &moved
}

// named is a place with a name in quotes, when there is one.
func named(kind string, number int, name string) string {
	place := fmt.Sprintf("%s %d", kind, number)
	if name = strings.Join(strings.Fields(name), " "); name != "" {
		place += " " + quote(name)
	}
	return place
}

// quote shortens what comes from a file and makes it printable.
func quote(s string) string {
	const most = 40
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return fmt.Sprintf("%q", s)
}

// were gives "1 waypoint was" and "3 waypoints were".
func were(n int, one string) string {
	if n == 1 {
		return "1 " + one + " was"
	}
	return fmt.Sprintf("%d %ss were", n, one)
}

func sizes(format string, got, most int) string { return fmt.Sprintf(format, got>>20, most>>20) }
