package serve

import (
	"context"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"
)

// Trouble is something that went wrong here, as the status page shows it.
type Trouble struct {
	Text  string    `json:"text"` // plain text from anywhere: hostile until it is escaped
	First time.Time `json:"first"`
	Last  time.Time `json:"last"`
	Times int       `json:"times"`
}

// Bounds of what is kept of troubles.
const (
	mostTroubles   = 30
	longestTrouble = 300 // characters
)

// troubles keeps the latest warnings and errors of the log. The same words
// count up instead of taking another place.
type troubles struct {
	now  func() time.Time
	hide func(string) string // takes out what phones shall not learn, such as folders
	mu   sync.Mutex
	all  []Trouble // the latest one last
}

func (t *troubles) add(text string) {
	text = tidy(t.hide(text))
	now := t.now()
	t.mu.Lock()
	defer t.mu.Unlock()
	again := Trouble{Text: text, First: now}
	for i, old := range t.all {
		if old.Text == text {
			again = old
			t.all = append(t.all[:i], t.all[i+1:]...)
			break
		}
	}
	again.Last = now
	again.Times++
	if len(t.all) == mostTroubles {
		t.all = t.all[1:]
	}
	t.all = append(t.all, again)
}

// latest gives them, the latest first.
func (t *troubles) latest() []Trouble {
	t.mu.Lock()
	defer t.mu.Unlock()
	out := make([]Trouble, 0, len(t.all))
	for i := len(t.all) - 1; i >= 0; i-- {
		out = append(out, t.all[i])
	}
	return out
}

// tidy makes one line of a text, of bounded length and without signs that turn
// the direction of writing or hide.
func tidy(text string) string {
	text = strings.Map(func(c rune) rune {
		switch {
		case unicode.IsSpace(c):
			return ' '
		case !unicode.IsGraphic(c) || unicode.Is(unicode.Cf, c):
			return -1
		}
		return c
	}, strings.ToValidUTF8(text, "?"))
	if runes := []rune(text); len(runes) > longestTrouble {
		text = string(runes[:longestTrouble]) + "…"
	}
	return strings.TrimSpace(text)
}

// tee writes the log as before, and notes warnings and errors.
type tee struct {
	slog.Handler
	troubles *troubles
	attrs    []slog.Attr
}

func (h tee) Enabled(ctx context.Context, l slog.Level) bool {
	return l >= slog.LevelWarn || h.Handler.Enabled(ctx, l)
}

func (h tee) Handle(ctx context.Context, r slog.Record) error {
	if r.Level >= slog.LevelWarn {
		all := slices.Clone(h.attrs)
		r.Attrs(func(a slog.Attr) bool { all = append(all, a); return true })
		h.troubles.add(sentence(r.Message, all))
	}
	if !h.Handler.Enabled(ctx, r.Level) {
		return nil
	}
	return h.Handler.Handle(ctx, r)
}

// sentence is a line of the log as a sentence: what happened, to what, and why.
func sentence(message string, attrs []slog.Attr) string {
	why := ""
	for _, a := range attrs {
		switch a.Key {
		case "err":
			why = ": " + a.Value.String()
		case "path":
			message += " (" + a.Value.String() + ")"
		default:
			message += " (" + a.Key + " " + a.Value.String() + ")"
		}
	}
	return message + why
}

func (h tee) WithAttrs(attrs []slog.Attr) slog.Handler {
	return tee{h.Handler.WithAttrs(attrs), h.troubles, append(h.attrs[:len(h.attrs):len(h.attrs)], attrs...)}
}

func (h tee) WithGroup(name string) slog.Handler {
	return tee{h.Handler.WithGroup(name), h.troubles, h.attrs}
}
