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
	first int           // so many texts are said at once
	most  time.Duration // pauses double up to it while much is said; 0 = they stay as they are

	mu         sync.Mutex
	last, next string
	seen       map[string]bool
	at         time.Time
	said       int // since the last pause as long as most
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
	if rest := t.pause() - time.Since(t.at); !t.at.IsZero() && rest > 0 {
		t.waiting = time.AfterFunc(rest, t.now)
		return
	}
	t.out()
}

// pause is how long nothing is said after the latest text. The caller holds mu.
func (t *teller) pause() time.Duration {
	switch more := t.said - t.first; {
	case more < 0:
		return 0
	case t.most == 0:
		return t.every
	default:
		return min(t.every<<min(more, 20), t.most)
	}
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
	if t.most > 0 && time.Since(t.at) > t.most {
		t.said = 0
	}
	t.last, t.at, t.seen[t.next] = t.next, time.Now(), true
	t.said++
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
