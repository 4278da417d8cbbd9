package main

import (
	"sync"
	"time"
)

// tellEvery is how often at most the terminal says how a receiver is: a bad sky goes and comes
// each second (the project's own choice, no source).
const tellEvery = 10 * time.Second

// teller says how something is when that has changed, once in a while: what passes in between
// is over by then. Of a recording, which nobody walks with, each state is said once.
type teller struct {
	say   func(text string)
	every time.Duration

	mu         sync.Mutex
	last, next string
	seen       map[string]bool
	at         time.Time
	waiting    *time.Timer
}

// tell says a text now or later, unless another comes meanwhile.
func (t *teller) tell(text string, recorded bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if recorded && t.seen[text] {
		return
	}
	t.next = text
	if t.waiting != nil {
		return
	}
	if rest := t.every - time.Since(t.at); !t.at.IsZero() && rest > 0 {
		t.waiting = time.AfterFunc(rest, t.now)
		return
	}
	t.out()
}

func (t *teller) now() {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.waiting != nil {
		t.waiting = nil
		t.out()
	}
}

// out says what is to be said next. The caller holds mu.
func (t *teller) out() {
	if t.next == t.last {
		return
	}
	if t.seen == nil {
		t.seen = map[string]bool{}
	}
	t.last, t.at, t.seen[t.next] = t.next, time.Now(), true
	t.say(t.next)
}

// stop says what is left, and nothing after.
func (t *teller) stop() {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.waiting != nil {
		t.waiting.Stop()
		t.waiting = nil
		t.out()
	}
}
