package source

import (
	"fmt"
	"time"

	"groundsheet/tiles"
)

// OpenAt reports whether the terms allow asking at a time.
func (t *Terms) OpenAt(time.Time) bool { return true }

// NextOpening is when the terms allow asking again.
func (t *Terms) NextOpening(at time.Time) time.Time { return at }

// Day names the day a request counts for.
func (t *Terms) Day(at time.Time) string { return at.Format("2006-01-02") }

// Placeholder reports whether the operator named an image as "no imagery here".
func (s Source) Placeholder([32]byte) bool { return false }

// Outside reports whether the source itself states that it has no such tile.
func (s Source) Outside(tiles.ID) bool { return false }

// Block is the north-west tile of the picture that holds a tile, and the tiles along its side.
func (s Source) Block(t tiles.ID) (first tiles.ID, n int) { return t, 1 }

// BlockAddress is the URL of such a picture.
func (s Source) BlockAddress(first tiles.ID) (string, error) {
	return "", fmt.Errorf("source %q has no pictures of several tiles", s.Name)
}
