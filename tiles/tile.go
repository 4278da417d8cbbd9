package tiles

import "time"

// Origin is where a tile's bytes came from and how long they are fresh.
type Origin struct {
	Source       string    // name in the operator's sources file
	Fetched      time.Time // when the bytes arrived or were last confirmed (UTC)
	FreshUntil   time.Time // after this the source is asked again (UTC)
	ETag         string    // validator as sent, with quotes; "" when none
	LastModified string    // HTTP-date as sent; "" when none
}

// ClockSlack is how far a stated time may lie ahead of a clock before one of
// the two is taken to be wrong: more than nearly every mistake of a time zone
// makes (the project's own choice, no source).
const ClockSlack = 24 * time.Hour

// Ahead reports whether the tile says that it was fetched later than now by
// more than [ClockSlack]: a clock was wrong then or is wrong now, so its age
// and freshness are unknown.
func (o Origin) Ahead(now time.Time) bool { return o.Fetched.After(now.Add(ClockSlack)) }

// Tile is one tile with its image as the source sent it, never re-encoded.
type Tile struct {
	ID
	Data []byte
	Origin
}
