package fault_test

import (
	"errors"
	"fmt"
	"io/fs"
	"testing"

	"groundsheet/tiles/fault"
)

var (
	damaged = fault.Outside("damaged")
	badJob  = fault.Input("bad job")
)

func Example() {
	err := fmt.Errorf("base 1: %w", &fault.Fault{
		Kind: damaged, Place: "store/ortho.sqlite", Detail: "cannot be read", Err: fs.ErrPermission, Remedy: "look at the folder's permissions",
	})
	fmt.Println(err)
	fmt.Println(errors.Is(err, damaged), errors.Is(err, badJob), errors.Is(err, fs.ErrPermission), fault.IsOutside(err))
	// Output:
	// base 1: store/ortho.sqlite: cannot be read: permission denied; look at the folder's permissions
	// true false true true
}

func TestError(t *testing.T) {
	for want, f := range map[string]fault.Fault{
		"a.csv: no depth; name a column": {Place: "a.csv", Detail: "no depth", Remedy: "name a column"},
		"a.csv: permission denied":       {Place: "a.csv", Err: fs.ErrPermission},
		"no pack is named; name one":     {Detail: "no pack is named", Remedy: "name one"},
		"no pack is named":               {Detail: "no pack is named"},
	} {
		if got := f.Error(); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestIsOutside(t *testing.T) {
	for name, c := range map[string]struct {
		err  error
		want bool
	}{
		"nil":             {nil, false},
		"another error":   {fs.ErrNotExist, false},
		"no kind":         {&fault.Fault{Detail: "odd"}, false},
		"input":           {&fault.Fault{Kind: badJob}, false},
		"outside":         {&fault.Fault{Kind: damaged}, true},
		"outside wrapped": {fmt.Errorf("x: %w", &fault.Fault{Kind: damaged}), true},
	} {
		if got := fault.IsOutside(c.err); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}
