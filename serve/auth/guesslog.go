package auth

import (
	"net/netip"
	"time"
)

// Where slips end and guessing begins; the project's own choice, no source.
const (
	guessingFrom = 20               // wrong codes
	guessingOver = 10 * time.Minute // without another one
)

// Guessing describes a run of wrong codes. Equal ones from one address count once.
type Guessing struct {
	Since       time.Time `json:"since"`
	Latest      time.Time `json:"latest"`
	Wrong       int       `json:"wrong_codes"`
	Addresses   int       `json:"addresses"`    // that sent them, at least
	Busiest     string    `json:"busiest"`      // the address that sent most
	BusiestSent int       `json:"busiest_sent"` // how many it sent
}

// guessLog counts the wrong codes of the current run.
type guessLog struct {
	Guessing
	run int // number of the run
}

// count adds a wrong code; t is nil if its sender is not in the table.
func (l *guessLog) count(from netip.Addr, t *tries, now time.Time) {
	if l.over(now) {
		*l = guessLog{Guessing{Since: now}, l.run + 1}
	}
	l.Latest = now
	l.Wrong++
	if t == nil {
		return
	}
	if t.run != l.run {
		t.run, t.inRun = l.run, 0
		l.Addresses++
	}
	t.inRun++
	if t.inRun > l.BusiestSent {
		l.Busiest, l.BusiestSent = from.String(), t.inRun
	}
}

func (l *guessLog) over(now time.Time) bool {
	return now.Sub(l.Latest) > guessingOver || now.Before(l.Latest)
}

// Guessing returns the current run of wrong codes; nil if there is none, or only slips.
func (h *Handler) Guessing() *Guessing {
	if h.open {
		return nil
	}
	return h.throttle.guessing()
}

func (t *throttle) guessing() *Guessing {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.log.Wrong < guessingFrom || t.log.over(t.now()) {
		return nil
	}
	return new(t.log.Guessing)
}
