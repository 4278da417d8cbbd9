// Package fault is an error that a person can act on: what is wrong, where, and
// what to do about it. Packages name the kinds that callers tell apart:
//
//	var Damaged = fault.Outside("damaged")
//
//	return &fault.Fault{Kind: Damaged, Place: path, Detail: "page 7 cannot be read", Remedy: "run store verify --mend"}
//
//	if errors.Is(err, store.Damaged) { … }
package fault

import "errors"

// Kind is what callers tell faults apart by, with [errors.Is].
type Kind struct {
	name    string
	outside bool
}

// Input is a kind of wrong use or bad input: the caller can mend it.
func Input(name string) *Kind { return &Kind{name: name} }

// Outside is a kind that lies with the network, the disk or another program.
func Outside(name string) *Kind { return &Kind{name: name, outside: true} }

// Error is the name of the kind.
func (k *Kind) Error() string { return k.name }

// Fault is one thing that is wrong.
type Fault struct {
	Kind   *Kind  // nil = bad input that no caller tells apart
	Place  string // the file, line, source or address; "" = said in Detail
	Detail string // what is wrong; "" = the cause says it
	Remedy string // what to do; "" = Detail says it
	Err    error  // the cause, or nil
}

// Error is "place: detail: cause; remedy", without the parts that are empty.
func (f *Fault) Error() string {
	text := f.Detail
	if f.Err != nil {
		text = join(text, ": ", f.Err.Error())
	}
	return join(join(f.Place, ": ", text), "; ", f.Remedy)
}

func join(a, between, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + between + b
}

// Unwrap gives the kind and the cause.
func (f *Fault) Unwrap() []error {
	var all []error
	if f.Kind != nil {
		all = append(all, f.Kind)
	}
	if f.Err != nil {
		all = append(all, f.Err)
	}
	return all
}

// IsOutside reports whether err is, or wraps, a fault of an [Outside] kind.
func IsOutside(err error) bool {
	var k *Kind
	return errors.As(err, &k) && k.outside
}
