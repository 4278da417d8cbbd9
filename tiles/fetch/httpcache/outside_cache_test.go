//go:build outside

package httpcache

import (
	"bytes"
	"encoding/json"
	"math"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// said is one answer in the form that the reference reads.
type said struct {
	Status  int               `json:"status"`
	Headers map[string]string `json:"headers"`
}

// differences name where the reference differs, and why: the first whose test
// holds explains a case.
func differences() []struct {
	name, why string
	of        func(said) bool
} {
	cc := func(part string) func(said) bool {
		return func(s said) bool { return strings.Contains(s.Headers["cache-control"], part) }
	}
	return []struct {
		name, why string
		of        func(said) bool
	}{
		{"quoted max-age", "9111 5.2.2.1 forbids the quotes and 4.2.1 lets us take it as stale; the reference reads the number", cc(`max-age="`)},
		{"fraction", "9111 4.2.1: what is no whole number makes the answer stale; the reference reads up to the dot", cc("max-age=1.5")},
		{"two ages", "9111 4.2.1: of conflicting values the most restrictive; the reference takes the last", cc("max-age=60, max-age=7200")},
		{"overflow", "9111 1.2.2: an age too large is 2^31 seconds; the reference reckons on", cc("max-age=99999999999")},
		{"upper case", "9111 5.2: names are the same in any case; the reference reads lower case alone", cc("Max-Age")},
		{"comma in quotes", "9111 5.2: a quoted list is one value; the reference cuts it at its commas", cc(`private="a, no-cache"`)},
		{"must-understand", "9111 5.2.2.3 is not known to the reference", cc("must-understand")},
		{"Vary with more", "9111 4.1: a list with * never matches; the reference sees * alone", func(s said) bool { return s.Headers["vary"] == "Accept, *" }},
		{"negative Age", "9111 5.1: an invalid Age is ignored; the reference makes the answer younger by it", func(s said) bool { return s.Headers["age"] == "-5" }},
		{"Date behind", "9111 4.2.3: the apparent age counts; the reference counts the Age field alone", func(s said) bool { return s.Headers["date"] == date(-time.Hour) }},
	}
}

// reference is the moment that all the answers come at.
var reference = day

func date(d time.Duration) string { return reference.Add(d).Format(http.TimeFormat) }

// combinations are answers with every mixture of what bears on keeping.
func combinations() (all []said) {
	ccs := []string{"", "max-age=3600", "max-age=0", "no-store", "no-store, max-age=60", "no-store, must-understand, max-age=60", "no-cache, max-age=60", "private, max-age=60",
		"public", "s-maxage=10, max-age=100", "must-revalidate", `max-age="60"`, "max-age=1.5", "max-age=60, max-age=7200", "max-age=99999999999",
		"Max-Age=60", `private="a, no-cache", max-age=60`, "max-age=600, immutable, stale-if-error=60"}
	for _, status := range []int{200, 204, 404, 410} {
		for _, cc := range ccs {
			for _, expires := range []string{"", "0", date(2 * time.Hour), date(-2 * time.Hour)} {
				for _, modified := range []string{"", date(-100 * time.Hour), date(time.Hour)} {
					for _, more := range [][2]string{{}, {"age", "30"}, {"age", "10, 50"}, {"age", "-5"}, {"vary", "*"}, {"vary", "Accept"}, {"vary", "Accept, *"}, {"date", date(-time.Hour)}} {
						s := said{status, map[string]string{"date": date(0)}}
						for _, f := range [][2]string{{"cache-control", cc}, {"expires", expires}, {"last-modified", modified}, more} {
							if f[1] != "" {
								s.Headers[f[0]] = f[1]
							}
						}
						all = append(all, s)
					}
				}
			}
		}
	}
	return all
}

// Whether an answer may be kept and how long it is fresh, against the npm
// package http-cache-semantics; every difference is one of those named.
func TestOutsideCacheSemantics(t *testing.T) {
	answers := combinations()
	input, err := json.Marshal(map[string]any{"now": reference.UnixMilli(), "answers": answers})
	if err != nil {
		t.Fatal(err)
	}
	node := exec.Command("node", "cache.mjs")
	node.Dir, node.Stdin, node.Stderr = filepath.Join("..", "..", "..", "testdata", "reference"), bytes.NewReader(input), os.Stderr
	out, err := node.Output()
	if err != nil {
		t.Fatal(err)
	}
	var theirs []struct {
		Storable bool
		Fresh    float64
	}
	if err := json.Unmarshal(out, &theirs); err != nil || len(theirs) != len(answers) {
		t.Fatalf("%d answers for %d, %v", len(theirs), len(answers), err)
	}
	explained, agreed := map[string]int{}, 0
	for i, s := range answers {
		h := http.Header{}
		for k, v := range s.Headers {
			h.Set(k, v)
		}
		r := Response{Status: s.Status, Header: h, Control: ParseDirectives(h), Requested: reference, Received: reference}
		keep, fresh := !r.NoStore(), r.Freshness().Seconds()
		if !keep {
			fresh = 0
		}
		if keep == theirs[i].Storable && math.Abs(fresh-theirs[i].Fresh) < 0.001 {
			agreed++
			continue
		}
		if name := explain(s); name != "" {
			explained[name]++
			continue
		}
		t.Errorf("%v: kept %v for %v s, the reference says %v for %v s", s, keep, fresh, theirs[i].Storable, theirs[i].Fresh)
	}
	for _, d := range differences() {
		if explained[d.name] == 0 {
			t.Errorf("%s: named as a difference, but there is none", d.name)
		}
	}
	t.Logf("%d of %d answers agree; differences: %v", agreed, len(answers), explained)
}

func explain(s said) string {
	for _, d := range differences() {
		if d.of(s) {
			return d.name
		}
	}
	return ""
}
