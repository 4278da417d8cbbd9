// Package record reads what is already recorded under the ground: lines,
// readings and structures, each with its utility, age and certainty, in units
// that are named. Nothing is guessed: a depth without a unit is refused, and
// what a record does not state stays unknown.
package record

import (
	"fmt"
	"strings"
)

// Symbology is how a record's lines look, on the page and on paper. Lengths are
// pixels on the page and points on paper. Color alone never tells: the
// pattern of ticks tells the utility apart in black and white, the dash tells
// the quality level.
type Symbology struct {
	Color  string    `json:"colour"` // "#RRGGBB"
	Casing string    `json:"casing"` // "#RRGGBB"
	Letter string    `json:"letter"` // drawn along the line
	Dash   []float64 `json:"dash"`   // on, off, …; none = unbroken. By quality level
	Round  bool      `json:"round"`  // dashes have round ends: they are dots
	Ticks  []Tick    `json:"ticks"`  // repeated along the line, by utility
	Every  float64   `json:"every"`  // from one group of ticks to the next
	Hatch  Hatch     `json:"hatch"`  // of faces
	Level  string    `json:"level"`  // "A" to "D", or "" for none that ASCE 38 knows
}

// Tick is a stroke across the line: Length to each side, Lean in degrees from
// square to the line. A length of 0 is a dot.
type Tick struct {
	At     float64 `json:"at"`
	Length float64 `json:"length"`
	Lean   float64 `json:"lean"`
	Left   bool    `json:"left"`  // has the stroke on this side
	Right  bool    `json:"right"` // and on this
}

// Hatch fills a face with lines.
type Hatch struct {
	Angle   float64 `json:"angle"` // degrees from east, counter-clockwise
	Gap     float64 `json:"gap"`   // from line to line
	Crossed bool    `json:"crossed"`
}

// pattern is a utility's ticks and hatch, the project's own choice: the APWA
// code knows colors alone. No pattern points along the line: the order of its
// positions is how it was drawn, not which way anything flows.
func pattern(code string) (ticks []Tick, every float64, hatch Hatch) {
	both := func(at, length, lean float64) Tick { return Tick{at, length, lean, true, true} }
	switch code {
	case "electric":
		return []Tick{both(0, 6, 30), both(5, 6, -30)}, 44, Hatch{45, 6, false}
	case "gas":
		return []Tick{both(0, 6, 0)}, 36, Hatch{135, 6, false}
	case "communication":
		return []Tick{both(0, 0, 0), both(8, 0, 0)}, 44, Hatch{90, 6, false}
	case "water":
		return nil, 0, Hatch{0, 6, false}
	case "sewer":
		return []Tick{both(0, 0, 0), both(8, 7, 0), both(16, 0, 0)}, 48, Hatch{45, 6, true}
	case "reclaimed":
		return []Tick{both(0, 6, 0), both(5, 6, 0)}, 44, Hatch{0, 6, true}
	case "survey":
		return []Tick{{0, 7, 0, true, false}}, 20, Hatch{135, 12, false}
	}
	return []Tick{{0, 7, 0, false, true}, {6, 7, 0, false, true}}, 30, Hatch{45, 12, false}
}

// levelDash is the dash of a quality level: the less is known, the more broken
// the line (the project's own choice). Words other than A to D get dots.
func levelDash(level string) (dash []float64, round bool) {
	switch level {
	case "A":
		return nil, false
	case "B":
		return []float64{26, 8}, false
	case "C":
		return []float64{15, 8}, false
	case "D":
		return []float64{7, 7}, false
	}
	return []float64{0.1, 9}, true
}

// SymbologyOf gives the look of a utility at a quality level. A code that is not
// known looks like a survey mark: pink, the unknown line of common practice.
func SymbologyOf(utility, level string) Symbology {
	u, err := FindUtility(utility)
	if err != nil {
		u, _ = FindUtility("survey")
		u.Letter = "?"
	}
	s := Symbology{Color: u.Color, Casing: u.Casing, Letter: u.Letter}
	s.Ticks, s.Every, s.Hatch = pattern(u.Code)
	if known, ok := Level(level); ok {
		s.Level = known
	}
	s.Dash, s.Round = levelDash(s.Level)
	return s
}

// StateSymbology is what a state adds to the look of a line. The dash and the ticks
// of the utility stay: strokes in ink lie over them. Lengths are pixels on the
// page and points on paper. The looks are the project's own choice, after the
// struck-out lines of drafting (common practice, no source).
type StateSymbology struct {
	State   State   `json:"state"`
	Strokes []Tick  `json:"strokes"` // across the line, in ink
	Every   float64 `json:"every"`   // from one group of strokes to the next
	Hollow  bool    `json:"hollow"`  // the middle of the line is of the color of its casing
	Word    string  `json:"word"`    // written behind the utility's letter; "" = none
}

// StateSymbologyOf is the look of a state: crosses for abandoned, single slanted
// strokes for out of service, a hollow line for proposed. Every other line, also
// one whose state is not understood, looks like one that is in service: it is
// there. Strokes look the same from both ends of a line.
func StateSymbologyOf(s State) StateSymbology {
	look := StateSymbology{State: s, Strokes: []Tick{}}
	stroke := func(lean float64) Tick { return Tick{At: 0, Length: 7, Lean: lean, Left: true, Right: true} }
	switch s {
	case Abandoned:
		look.Strokes, look.Every = []Tick{stroke(45), stroke(-45)}, 40
	case OutOfService:
		look.Strokes, look.Every = []Tick{stroke(45)}, 40
	case Proposed:
		look.Hollow = true
	default:
		return look
	}
	look.Word = string(s)
	return look
}

// StateSymbologies are the looks that differ from that of a line in service, in the
// order in which a legend lists them.
func StateSymbologies() []StateSymbology {
	return []StateSymbology{StateSymbologyOf(Abandoned), StateSymbologyOf(OutOfService), StateSymbologyOf(Proposed)}
}

// Utility is a kind of facility by the APWA Uniform Color Code, an open trade
// standard. Color is what is drawn, Casing the edge that keeps it apart from
// grass and asphalt; both are "#RRGGBB".
//
// The code gives Munsell notations, not screen colors. The colors here are
// the CIE values published for it (49 CFR 172 Appendix A table 1 for red,
// ANSI Z535.1-1998 as quoted for orange; the other four from memory of the
// same federal table), adapted to D65 and cut to sRGB: approximations.
// Pink as drawn, and every letter, is common practice.
type Utility struct {
	Code   string // the word used in job.toml
	Name   string // the APWA wording, shortened
	Letter string // drawn beside the color, for those who cannot tell colors apart
	Color  string
	Casing string
}

var utilities = []Utility{
	{"electric", "electric power, lighting", "E", "#BC2221", "#FFFFFF"},
	{"gas", "gas, oil, steam, petroleum", "G", "#ECC800", "#000000"},
	{"communication", "communication, signal, cable TV, fiber", "C", "#E57800", "#000000"},
	{"water", "potable water", "W", "#005A98", "#FFFFFF"},
	{"sewer", "sewer and drain", "S", "#007453", "#FFFFFF"},
	{"reclaimed", "reclaimed water, irrigation, slurry", "R", "#9E5390", "#FFFFFF"},
	{"survey", "temporary survey mark", "T", "#FF1493", "#000000"},
	{"proposed", "proposed digging", "P", "#FFFFFF", "#000000"},
}

// Utilities lists the code in its usual order. The slice is the caller's.
func Utilities() []Utility { return append([]Utility(nil), utilities...) }

// FindUtility looks a code word up; the error lists the known ones.
func FindUtility(code string) (Utility, error) {
	words := make([]string, len(utilities))
	for i, u := range utilities {
		if u.Code == code {
			return u, nil
		}
		words[i] = u.Code
	}
	return Utility{}, fmt.Errorf("utility %q is not in the APWA color code: use one of %s", code,
		strings.Join(words, ", "))
}
