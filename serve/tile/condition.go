package tile

import (
	"errors"
	"sync/atomic"
	"time"

	"groundsheet/tiles/words"
)

// condition is what reading the tiles of a pack has shown: that it is damaged, or too
// slow. A pack that is too slow is not read for a while.
type condition struct {
	damaged atomic.Bool
	slow    atomic.Bool
	until   atomic.Int64 // the end of the pause, in nanoseconds since 1970; 0 = none
	length  atomic.Int64 // of the latest pause, in nanoseconds
}

// errPausing says that a tile was not read or rendered because others took too long.
var errPausing = errors.New("its tiles took too long to read; they are tried again later")

// Trouble is the condition in words; "" = nothing is wrong.
func (c *condition) Trouble() string {
	switch {
	case c.damaged.Load():
		return words.Say("laptop.damaged")
	case c.slow.Load():
		return words.Say("laptop.slow")
	}
	return ""
}

// Pausing reports whether the tiles are not read at present, because they took too long.
func (c *condition) Pausing(now time.Time) bool {
	until := c.until.Load()
	return until != 0 && now.UnixNano() < until
}

// tooSlow begins a pause, twice as long each time up to a minute.
func (c *condition) tooSlow(now time.Time) {
	if c.until.Load() > now.UnixNano() {
		return // another request found it too slow just now
	}
	length := min(max(time.Second, 2*time.Duration(c.length.Load())), time.Minute)
	c.length.Store(int64(length))
	c.until.Store(now.Add(length).UnixNano())
	c.slow.Store(true)
}

// readable ends the pauses: a tile could be read.
func (c *condition) readable() {
	if c.until.Load() != 0 {
		c.until.Store(0)
		c.length.Store(0)
		c.slow.Store(false)
	}
}
