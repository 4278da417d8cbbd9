package status

import (
	"context"
	"log/slog"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"
)

// Trouble is a warning or an error of the server.
type Trouble struct {
	Text  string    `json:"text"` // plain text from anywhere: hostile until it is escaped
	First time.Time `json:"first"`
	Last  time.Time `json:"last"`
	Times int       `json:"times"`
}

// Bounds of what an [ErrorLog] keeps.
const (
	maxTroubles    = 30
	maxTroubleText = 300 // characters
)

// ErrorLog keeps the latest warnings and errors of a log. Equal texts are counted. Make
// it with [NewErrorLog].
type ErrorLog struct {
	now     func() time.Time
	folders *strings.Replacer // removes folders
	mu      sync.Mutex
	all     []Trouble // the latest last
}

// NewErrorLog makes an empty log. It hides the folders of paths: phones shall not learn
// them.
func NewErrorLog(now func() time.Time, paths []string) *ErrorLog {
	var pairs []string
	for _, p := range paths {
		for _, folder := range []string{p, filepath.Dir(p)} {
			if absolute, err := filepath.Abs(folder); err == nil && absolute != filepath.Dir(absolute) {
				pairs = append(pairs, absolute+string(filepath.Separator), "")
			}
		}
	}
	return &ErrorLog{now: now, folders: strings.NewReplacer(pairs...)}
}

// Redact makes one line of a text, without folders, of bounded length, and without
// characters that hide or change the direction of writing.
func (l *ErrorLog) Redact(text string) string {
	text = strings.Map(func(c rune) rune {
		switch {
		case unicode.IsSpace(c):
			return ' '
		case !unicode.IsGraphic(c) || unicode.Is(unicode.Cf, c):
			return -1
		}
		return c
	}, strings.ToValidUTF8(l.folders.Replace(text), "?"))
	if runes := []rune(text); len(runes) > maxTroubleText {
		text = string(runes[:maxTroubleText]) + "…"
	}
	return strings.TrimSpace(text)
}

func (l *ErrorLog) add(text string) {
	text = l.Redact(text)
	now := l.now()
	l.mu.Lock()
	defer l.mu.Unlock()
	t := Trouble{Text: text, First: now}
	if i := slices.IndexFunc(l.all, func(t Trouble) bool { return t.Text == text }); i >= 0 {
		t = l.all[i]
		l.all = slices.Delete(l.all, i, i+1)
	}
	t.Last = now
	t.Times++
	if len(l.all) == maxTroubles {
		l.all = l.all[1:]
	}
	l.all = append(l.all, t)
}

// latest gives all troubles, the latest first.
func (l *ErrorLog) latest() []Trouble {
	l.mu.Lock()
	defer l.mu.Unlock()
	all := append([]Trouble{}, l.all...)
	slices.Reverse(all)
	return all
}

// Tee gives a log that writes to another one and keeps warnings and errors here.
func (l *ErrorLog) Tee(to *slog.Logger) *slog.Logger {
	return slog.New(slog.NewMultiHandler(to.Handler(), handler{log: l}))
}

// handler adds the warnings and errors of a log to an [ErrorLog].
type handler struct {
	log   *ErrorLog
	attrs []slog.Attr
}

// Enabled is true of warnings and errors.
func (h handler) Enabled(_ context.Context, level slog.Level) bool { return level >= slog.LevelWarn }

// Handle adds a record as a sentence: what happened, to what, and why.
func (h handler) Handle(_ context.Context, r slog.Record) error {
	message, why := r.Message, ""
	add := func(a slog.Attr) bool {
		switch a.Key {
		case "err":
			why = ": " + a.Value.String()
		case "path":
			message += " (" + a.Value.String() + ")"
		default:
			message += " (" + a.Key + " " + a.Value.String() + ")"
		}
		return true
	}
	for _, a := range h.attrs {
		add(a)
	}
	r.Attrs(add)
	h.log.add(message + why)
	return nil
}

// WithAttrs keeps attributes for each record.
func (h handler) WithAttrs(attrs []slog.Attr) slog.Handler {
	return handler{h.log, append(slices.Clip(h.attrs), attrs...)}
}

// WithGroup changes nothing: names of groups are not for people.
func (h handler) WithGroup(string) slog.Handler { return h }
