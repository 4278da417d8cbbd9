package plainmap

import (
	"image/color"

	"groundsheet/tiles/source"
)

// Version is the version of the drawing. Raise it when pixels change: tiles that are
// held are then drawn again.
const Version = 1

// Look is how a role is drawn: a fill for areas, an edge, and a line. A color of "" is
// none.
type Look struct {
	Role  source.Role `json:"role"`
	Fill  string      `json:"fill,omitempty"` // of areas, and of streets drawn as lines
	Edge  string      `json:"edge,omitempty"` // of areas, and beside lines
	Width []Stop      `json:"width,omitempty"`
	Dash  float64     `json:"dash,omitempty"` // of lines, and as long a gap, in pixels; 0 = whole
	From  float64     `json:"from"`           // the zoom from which it is drawn, at 256 pixels a tile
	Named float64     `json:"named"`          // the zoom from which its name is written
	Text  float64     `json:"text"`           // size of the name, in pixels
	Ink   string      `json:"ink"`            // color of the name
}

// Stop is how wide a line is at a zoom, in pixels; between two stops it is in between.
type Stop [2]float64

// Paper is the ground where nothing is drawn, and the halo of names.
const Paper = "#f5f4f0"

const ink, inkOfWater = "#4f4b45", "#5b7280"

func looks() []Look {
	return []Look{
		{Role: source.RoleLand, Fill: "#faf9f6", Edge: "#bdb9b0", Width: []Stop{{0, 0.6}, {12, 1.2}}, Named: 4, Text: 12, Ink: ink},
		{Role: source.RoleGreen, Fill: "#e6ebe0", Edge: "#d3dacb", Width: []Stop{{10, 0.5}, {18, 1}}, From: 7, Named: 13, Text: 11, Ink: ink},
		{Role: source.RoleWater, Fill: "#d3dee4", Edge: "#b4c5cf", Width: []Stop{{8, 0.6}, {14, 1.4}, {20, 3}}, Named: 10, Text: 11, Ink: inkOfWater},
		{Role: source.RoleParcel, Edge: "#cfcac0", Width: []Stop{{15, 0.5}, {18, 1}, {21, 1.4}}, From: 15, Named: 19, Text: 10, Ink: "#77716a"},
		{Role: source.RoleBoundary, Edge: "#a9a39a", Width: []Stop{{6, 0.8}, {16, 1.6}}, Dash: 7, Named: 13, Text: 10, Ink: ink},
		{Role: source.RoleBuilding, Fill: "#e4dfd6", Edge: "#c2bcb1", Width: []Stop{{15, 0.5}, {18, 1}}, From: 14.5, Named: 17, Text: 10, Ink: ink},
		{Role: source.RolePath, Fill: "#b9b3a9", Width: []Stop{{15, 0.7}, {18, 1.4}, {21, 2}}, Dash: 4, From: 15, Named: 17, Text: 10, Ink: ink},
		{Role: source.RoleStreet, Fill: "#ffffff", Edge: "#c4beb4",
			Width: []Stop{{11, 0.5}, {14, 1.8}, {16, 4.5}, {19, 9}, {22, 12}}, From: 11, Named: 14.5, Text: 11, Ink: ink},
		{Role: source.RoleMainStreet, Fill: "#ffffff", Edge: "#a8a298",
			Width: []Stop{{5, 0.6}, {8, 1}, {12, 2.5}, {16, 7}, {19, 12}, {22, 15}}, From: 5, Named: 12.5, Text: 12, Ink: ink},
		{Role: source.RoleRail, Fill: "#a19b92", Edge: "#ffffff", Width: []Stop{{8, 0.6}, {14, 1.6}, {18, 3}}, Dash: 6, From: 8, Named: 15, Text: 10, Ink: ink},
		{Role: source.RoleAddress, Fill: "#a8a299", Width: []Stop{{17, 1.5}, {20, 2.5}}, From: 17, Named: 18, Text: 10.5, Ink: "#605b54"},
		{Role: source.RolePlace, Named: 0, Text: 13, Ink: ink},
	}
}

// LookOf is how a role is drawn.
func LookOf(role source.Role) Look {
	for _, l := range looks() {
		if l.Role == role {
			return l
		}
	}
	return Look{Role: role}
}

// width is how wide a line is at a zoom.
func (l Look) width(zoom float64) float64 {
	for i, s := range l.Width {
		switch {
		case zoom > s[0]:
			continue
		case i == 0:
			return s[1]
		}
		before := l.Width[i-1]
		return before[1] + (s[1]-before[1])*(zoom-before[0])/(s[0]-before[0])
	}
	if len(l.Width) == 0 {
		return 1
	}
	return l.Width[len(l.Width)-1][1]
}

// rgba reads "#rrggbb"; "" has no opacity. The table above holds nothing else.
func rgba(s string) color.RGBA {
	if s == "" {
		return color.RGBA{}
	}
	digit := func(i int) uint8 {
		c := s[i]
		if c >= 'a' {
			return c - 'a' + 10
		}
		return c - '0'
	}
	two := func(i int) uint8 { return digit(i)<<4 | digit(i+1) }
	return color.RGBA{two(1), two(3), two(5), 255}
}
