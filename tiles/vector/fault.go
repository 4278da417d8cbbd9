package vector

import (
	"errors"
	"fmt"
	"strings"

	"groundsheet/tiles/geojson"

	"groundsheet/tiles/fault"
)

// Rules of files, beside those of package geojson: the kinds of their faults.
var (
	RuleFormat     = fault.Input("format")     // an unknown ending, or content that does not fit it
	RuleArchive    = fault.Input("archive")    // a zip that cannot be read, or holds the wrong things
	RuleXML        = fault.Input("xml")        // not XML, or XML with a document type
	RuleLink       = fault.Input("link")       // nothing but links to shapes elsewhere
	RuleClosed     = fault.Input("closed")     // a track that does not come back to where it began
	RuleRecord     = fault.Input("record")     // a shapefile record that contradicts itself or its file
	RuleAttributes = fault.Input("attributes") // a .dbf that cannot be read, or does not fit its shapes
	RuleProjection = geojson.RuleCRS           // no coordinate reference system, or one not known here
	RuleWKT        = fault.Input("wkt")        // not well-known text
	RuleTable      = fault.Input("table")      // a table without the columns, or with rows, that give a position
	RuleLayer      = fault.Input("layer")      // a layer that is not there, or several and none is chosen
	RuleSide       = fault.Input("side file")  // a side file that is there and cannot be read
)

// Limits of the input.
const (
	MaxBytes    = 128 << 20 // of one file
	MaxInflated = 64 << 20  // bytes read out of one archive
	MaxEntries  = 1_000     // of one archive
	MaxParts    = 100_000   // rings, lines and features of single points in one file
	MaxDepth    = 100       // of nested XML elements
	maxTokens   = 20_000_000
	maxElements = 500_000 // of one placemark
)

func refuse(rule *fault.Kind, place, detail, remedy string) *fault.Fault {
	return &fault.Fault{Kind: rule, Place: place, Detail: detail, Remedy: remedy}
}

// within puts a place before the place of a fault.
func within(place string, err error) error {
	var f *fault.Fault
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

// labeled is a place with a name in quotes, when there is one.
func labeled(kind string, number int, name string) string {
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
