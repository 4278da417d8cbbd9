package tiles

import "time"

// Origin is where a tile's bytes came from and how long they hold.
type Origin struct {
	Source       string    // name in the operator's sources file
	Fetched      time.Time // when the bytes arrived or were last confirmed (UTC)
	FreshUntil   time.Time // after this the source is asked again (UTC)
	ETag         string    // validator as sent, with quotes; "" when none
	LastModified string    // HTTP-date as sent; "" when none
}

// Tile is one tile with its image as the source sent it, never re-encoded.
type Tile struct {
	ID
	Data []byte
	Origin
}
