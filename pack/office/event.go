package office

import (
	"time"

	"groundsheet/pack/plan"
	"groundsheet/tiles/fetch"
)

// EventKind says what an event is of.
type EventKind string

// The kinds of events, with the fields that are set besides Plan.
const (
	Begun     EventKind = "begun"     // a base: Total = tiles the source is asked for at most
	Waiting   EventKind = "waiting"   // another run is fetching from the source
	Paused    EventKind = "paused"    // until the terms' hours, the next day or as long as the source asks: Until, Why
	Retrying  EventKind = "retrying"  // the source fails and is asked again until it is given up: Until, Why
	Sampling  EventKind = "sampling"  // Total, Fetched
	Fetching  EventKind = "fetching"  // Total, Fetched
	Writing   EventKind = "writing"   // Done, Total
	Checking  EventKind = "checking"  // Done, Total
	Rewriting EventKind = "rewriting" // the pack that was there is damaged and is written again
)

// Event is one step of the progress of a verb. Events come one after the other.
type Event struct {
	Kind        EventKind
	Plan        *plan.Plan // the base at work; nil when only a pack is checked
	Done, Total int64      // tiles
	Fetched     fetch.Tally
	Until       time.Time
	Why         string
}
