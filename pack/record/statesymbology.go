package record

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
// order in which a legend tells them.
func StateSymbologies() []StateSymbology {
	return []StateSymbology{StateSymbologyOf(Abandoned), StateSymbologyOf(OutOfService), StateSymbologyOf(Proposed)}
}
