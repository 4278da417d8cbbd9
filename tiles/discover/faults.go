package discover

import (
	"fmt"
	"strings"
	"unicode"
)

// Failed says that a service could not be asked, or that what it answered is
// no document of its kind. It is a failure of the world outside.
type Failed struct {
	Source string // name of the source; "" when it has none yet
	Where  string // the address without the key
	Why    string
	Err    error // the cause, or nil
	Remedy string
	Outage bool // it may answer later: the network, or 500, 502, 503 or 504
}

// Error gives all of it in one line.
func (f *Failed) Error() string {
	why := f.Why
	if f.Err != nil {
		why = strings.TrimPrefix(why+": "+f.Err.Error(), ": ")
	}
	return fmt.Sprintf("%sasking %s: %s; %s", named(f.Source), f.Where, why, f.Remedy)
}

// Unwrap gives the cause, or nil.
func (f *Failed) Unwrap() error { return f.Err }

// Unfit says that a service and what sources.toml states of it do not go
// together. It is the operator's matter.
type Unfit struct{ Source, Why, Remedy string }

// Error gives source, reason and remedy in one line.
func (u *Unfit) Error() string { return named(u.Source) + u.Why + "; " + u.Remedy }

func named(source string) string {
	if source == "" {
		return ""
	}
	return fmt.Sprintf("source %q: ", source)
}

// unfit is an [Unfit] without its source, which [asker.blame] fills in.
func unfit(remedy, format string, args ...any) error {
	return &Unfit{Why: fmt.Sprintf(format, args...), Remedy: remedy}
}

// quote is a foreign text for a message: one line, not long, in quotes.
func quote(s string) string { return fmt.Sprintf("%q", plain(s, 80)) }

// plain is a foreign text as one line of at most so many characters.
func plain(s string, most int) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == unicode.ReplacementChar {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, " "))
	out := []rune(strings.Join(strings.Fields(s), " "))
	if len(out) > most {
		return string(out[:most]) + "…"
	}
	return string(out)
}

// list names some of many, so that a message stays readable.
func list(names []string) string {
	const most = 20
	var out []string
	for _, n := range names {
		out = append(out, plain(n, 80))
	}
	if len(out) > most {
		return strings.Join(out[:most], ", ") + fmt.Sprintf(" and %d more", len(out)-most)
	}
	if len(out) == 0 {
		return "none"
	}
	return strings.Join(out, ", ")
}
