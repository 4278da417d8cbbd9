package discover

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"unicode"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/fetch/httpget"
)

var (
	// Failed is the kind of fault of a service that could not be asked, or whose
	// answer is not a document of its kind.
	Failed = fault.Outside("service failed")
	// Outage is a failure that may be over later: the network, or a status of 500,
	// 502, 503 or 504.
	Outage = fault.Outside("service outage")
	// Unfit is the kind of fault of a service that does not have what sources.toml
	// states of it: a matter for the operator.
	Unfit = fault.Input("service unfit")
)

// Fail says that a service failed, without the key of the source.
func (s *session) fail(kind *fault.Kind, where, why string, err error, remedy string) error {
	if err != nil && s.src.Redact(err.Error()) != err.Error() {
		err = errors.New(s.src.Redact(err.Error()))
	}
	return &fault.Fault{Kind: kind, Place: named(s.src.Name, ": ") + "asking " + s.src.Redact(where),
		Detail: s.src.Redact(why), Err: err, Remedy: remedy}
}

func named(source, end string) string {
	if source == "" {
		return ""
	}
	return fmt.Sprintf("source %q%s", source, end)
}

// unfit is an [Unfit] fault without its source, which [session.blame] fills in.
func unfit(remedy, format string, args ...any) error {
	return &fault.Fault{Kind: Unfit, Detail: fmt.Sprintf(format, args...), Remedy: remedy}
}

// blame adds the name of the source to an [Unfit] fault and takes the key out.
func (s *session) blame(err error) error {
	var f *fault.Fault
	if !errors.As(err, &f) || f.Kind != Unfit {
		return err
	}
	return &fault.Fault{Kind: Unfit, Place: named(s.src.Name, ""), Detail: s.src.Redact(f.Detail),
		Remedy: s.src.Redact(f.Remedy)}
}

// statusError is a status other than 200, for [session.describe] to try another
// request. The words of the service are not repeated.
type statusError int

func (e statusError) Error() string { return "it answers " + httpget.StatusText(int(e)) }

func (s *session) rejected(where string, status int) error {
	kind, remedy := Failed, "check the address, or ask the provider"
	switch status {
	case 401, 402, 403, 407, 451:
		remedy = "check the key and the terms of the source"
	case 511:
		remedy = "sign in to the network in a browser first"
	case 429:
		remedy = "try again later"
	case 500, 502, 503, 504:
		kind, remedy = Outage, "try again later"
	}
	return s.fail(kind, where, "", statusError(status), remedy)
}

func (s *session) broken(ctx context.Context, where string, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if own, is := errors.AsType[*fault.Fault](err); is { // an answerer of this program says itself what is wrong
		return own
	}
	f := httpget.Diagnose(err, s.o.Timeout)
	if f.Untrusted {
		return s.fail(Failed, where, "", f, "check the clock of this computer and the address")
	}
	return s.fail(Outage, where, "no answer", f, "check the address and the network, or try again later")
}

// pick is the item of a name, or the only one if no name is stated.
func pick[T any](items []T, nameOf func(T) string, what, name string) (none T, err error) {
	var names []string
	for _, item := range items {
		if nameOf(item) == name || name == "" && len(items) == 1 {
			return item, nil
		}
		names = append(names, nameOf(item))
	}
	if name == "" {
		return none, unfit("name one with layer", "it has several %ss: %s", what, list(names))
	}
	return none, unfit("set layer to one of them", "it has no %s %s but %s", what, quote(name), list(names))
}

// quote is a foreign text for a message: one line, not long, in quotes.
func quote(s string) string { return fmt.Sprintf("%q", oneLine(s, 80)) }

// oneLine is a foreign text as one line of at most so many characters.
func oneLine(s string, most int) string {
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

// list names the first 20, so that a message stays readable.
func list(names []string) string {
	var out []string
	for _, n := range names[:min(len(names), 20)] {
		out = append(out, oneLine(n, 80))
	}
	switch {
	case len(names) > 20:
		return fmt.Sprintf("%s and %d more", strings.Join(out, ", "), len(names)-20)
	case len(names) == 0:
		return "none"
	}
	return strings.Join(out, ", ")
}
