package main

import (
	"context"
	"time"

	"groundsheet/serve/auth"
	"groundsheet/serve/status"
	"groundsheet/tiles/words"
)

// againAfter is how long guessing goes on before it is told once more.
const againAfter = 10 * time.Minute

// tellGuessing says that somebody guesses codes, now and then while it goes on, and
// when it is over. It looks as often as every says, until ctx ends.
func (a *app) tellGuessing(ctx context.Context, guessing func() *auth.Guessing, every time.Duration) {
	look := time.NewTicker(every)
	defer look.Stop()
	var said *auth.Guessing
	var told time.Time
	for {
		select {
		case <-ctx.Done():
			return
		case now := <-look.C:
			g := guessing()
			switch {
			case g == nil && said != nil:
				a.say("%s", words.Say("door.guessing_over", "wrong", said.Wrong, "addresses", said.Addresses))
			case g != nil && (said == nil || now.Sub(told) >= againAfter):
				a.say("WARNING: %s", status.GuessingText(*g, g.Latest))
				told = now
			}
			said = g
		}
	}
}
