package auth

import (
	"net/netip"
	"time"
)

// From here on wrong codes are guesses and no slips; both are the project's own
// choice, no source.
const (
	guessesFrom = 20               // wrong codes
	guessesRest = 10 * time.Minute // without one, and it is over
)

// Guessing is what is known of wrong codes that came one after the other. Equal ones
// from one address count once.
type Guessing struct {
	Since       time.Time `json:"since"`
	Latest      time.Time `json:"latest"`
	Wrong       int       `json:"wrong_codes"`
	Addresses   int       `json:"addresses"`    // that sent them, at least
	Busiest     string    `json:"busiest"`      // the address that sent most
	BusiestSent int       `json:"busiest_sent"` // how many it sent
}

// episode is guessing as it goes on.
type episode struct {
	Guessing
	number int
}

// count adds a wrong code; had is nil when its sender is not remembered.
func (e *episode) count(from netip.Addr, had *tries, now time.Time) {
	if e.over(now) {
		*e = episode{Guessing{Since: now}, e.number + 1}
	}
	e.Latest = now
	e.Wrong++
	if had == nil {
		return
	}
	if had.episode != e.number {
		had.episode, had.seen = e.number, 0
		e.Addresses++
	}
	had.seen++
	if had.seen > e.BusiestSent {
		e.Busiest, e.BusiestSent = from.String(), had.seen
	}
}

func (e *episode) over(now time.Time) bool {
	return now.Sub(e.Latest) > guessesRest || now.Before(e.Latest)
}

// Guessing tells of guessing that goes on; nil when none does.
func (g *Gate) Guessing() *Guessing {
	if g.open {
		return nil
	}
	return g.throttle.guessing()
}

func (t *throttle) guessing() *Guessing {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.episode.Wrong < guessesFrom || t.episode.over(t.now()) {
		return nil
	}
	now := t.episode.Guessing
	return &now
}
