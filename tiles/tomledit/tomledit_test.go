package tomledit

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
)

const hand = `# by hand
name   = "Elm St"   # as on the ticket
margin = '50ft'
area = [
  "a.geojson", # theirs
  "b.geojson"  # ours
]
# fit_in = "2GB"   # not yet
ticket.number = "1"

[[around]]
center = "40,-105"   # the valve
radius = "3ft"

# the county's
[[base]]
source = "county"
# zooms = [14, 21]            # left out

# [tolerance]                 # as stated
# each_side = "24in"

[[overlay]]
file = "w.csv"
columns = { depth = "D1", "odd key" = "x" }
[overlay.units]
depth = "in"
`

func TestApply(t *testing.T) {
	for name, c := range map[string]struct {
		change   Change
		from, to string // what is replaced in hand; the rest stays
	}{
		"a value":             {Change{Path: "name", Value: `Elm "St"`}, `"Elm St"`, `'Elm "St"'`},
		"the same value":      {Change{Path: "margin", Value: "50ft"}, "", ""},
		"an item":             {Change{Path: "area[1]", Value: "c.kml"}, `"b.geojson"`, `"c.kml"`},
		"one more item":       {Change{Path: "area", Value: []any{"a.geojson", "b.geojson", "c.kml"}}, "\"b.geojson\"  # ours\n", "\"b.geojson\",  # ours\n  \"c.kml\"\n"},
		"the last item less":  {Change{Path: "area", Value: []any{"a.geojson"}}, "\"a.geojson\", # theirs\n  \"b.geojson\"  # ours\n", "\"a.geojson\" # theirs\n"},
		"the first item less": {Change{Path: "area[0]"}, "  \"a.geojson\", # theirs\n", ""},
		"a key at its sample": {Change{Path: "fit_in", Value: "3GB"}, "# not yet\n", "# not yet\nfit_in = \"3GB\"\n"},
		"a key":               {Change{Path: "units", Value: "metric"}, "ticket.number = \"1\"\n", "ticket.number = \"1\"\nunits = \"metric\"\n"},
		"a dotted key":        {Change{Path: "ticket.valid_until", Value: Day("2026-12-12")}, "ticket.number = \"1\"\n", "ticket.number = \"1\"\nticket.valid_until = 2026-12-12\n"},
		"zooms":               {Change{Path: "base[0].zooms", Value: []any{14, 20}}, "# left out\n", "# left out\nzooms = [14, 20]\n"},
		"in an inline table":  {Change{Path: `overlay[0].columns."odd key"`, Value: "y"}, `"odd key" = "x"`, `"odd key" = "y"`},
		"one more in it":      {Change{Path: `overlay[0].columns.line`, Value: "L"}, `"x" }`, `"x", line = "L" }`},
		"one less in it":      {Change{Path: `overlay[0].columns.depth`}, `depth = "D1", `, ``},
		"the last one less":   {Change{Path: `overlay[0].columns."odd key"`}, `, "odd key" = "x"`, ``},
		"in a table below":    {Change{Path: `overlay[0].units.accuracy`, Value: "ft"}, "depth = \"in\"\n", "depth = \"in\"\naccuracy = \"ft\"\n"},
		"a table at a sample": {Change{Path: "tolerance", Value: Table{{"each_side", "18in"}}}, "# each_side = \"24in\"\n", "# each_side = \"24in\"\n\n[tolerance]\neach_side = \"18in\"\n"},
		"a table before":      {Change{Path: "box[]", Value: Table{{"from", "1,2"}, {"to", "3,4"}}, Before: "base"}, "# the county's\n", "[[box]]\nfrom = \"1,2\"\nto = \"3,4\"\n\n# the county's\n"},
		"a table beside":      {Change{Path: "around[]", Value: Table{{"center", "1,2"}}}, "radius = \"3ft\"\n", "radius = \"3ft\"\n\n[[around]]\ncenter = \"1,2\"\n"},
		"a table at the end":  {Change{Path: "overlay[]", Value: Table{{"file", "g.csv"}, {"leave_out", []any{Table{{"line", 3}}}}}}, "depth = \"in\"\n", "depth = \"in\"\n\n[[overlay]]\nfile = \"g.csv\"\nleave_out = [{ line = 3 }]\n"},
		"a table less":        {Change{Path: "base[0]"}, "# the county's\n[[base]]\nsource = \"county\"\n# zooms = [14, 21]            # left out\n\n", ""},
		"a table anew":        {Change{Path: "around[0]", Value: Table{{"center", "40,-105"}, {"radius", "9ft"}}}, `"3ft"`, `"9ft"`},
		"a line less":         {Change{Path: "ticket"}, "ticket.number = \"1\"\n", ""},
		"nothing there":       {Change{Path: "rule[0].by"}, "", ""},
	} {
		for _, eol := range []string{"\n", "\r\n"} {
			crlf := func(s string) string { return strings.ReplaceAll(s, "\n", eol) }
			want := crlf(strings.Replace(hand, c.from, c.to, 1))
			got, err := Apply([]byte(crlf(hand)), c.change)
			if name == "nothing there" {
				if err == nil {
					t.Errorf("%s: nothing is told", name)
				}
				continue
			}
			if err != nil || string(got) != want {
				t.Errorf("%s: %v\n%s", name, err, difference(want, string(got)))
			}
		}
	}
}

func difference(want, got string) string {
	w, g := strings.SplitAfter(want, "\n"), strings.SplitAfter(got, "\n")
	for len(w) > 0 && len(g) > 0 && w[0] == g[0] {
		w, g = w[1:], g[1:]
	}
	for len(w) > 0 && len(g) > 0 && w[len(w)-1] == g[len(g)-1] {
		w, g = w[:len(w)-1], g[:len(g)-1]
	}
	return fmt.Sprintf("want %q\ngot  %q", w, g)
}

func TestRefused(t *testing.T) {
	for name, c := range map[string]Change{
		"a table over nothing": {Path: "around[4].center", Value: "1,2"}, "a number of no size": {Path: "x", Value: struct{}{}},
		"not a path": {Path: "a b", Value: 1}, "no path": {Path: "", Value: 1}, "no day": {Path: "d", Value: Day("soon")},
		"a value over a table": {Path: "around", Value: "x"}, "into a value": {Path: "name.first", Value: "x"},
	} {
		if got, err := Apply([]byte(hand), c); err == nil {
			t.Errorf("%s: %s", name, got)
		}
	}
	if _, err := Apply([]byte("a = \n"), Change{Path: "b", Value: 1}); err == nil {
		t.Error("a text that is no TOML was changed")
	}
}

// writer writes a text as people do and keeps where each value is.
type writer struct {
	*rand.Rand
	strings.Builder
	eol    string
	values []place
}

type place struct {
	path     string
	from, to int
	list     bool
}

func (w *writer) pick(of ...string) string { return of[w.IntN(len(of))] }

func (w *writer) trivia() {
	for w.IntN(3) == 0 {
		w.WriteString(w.pick("", "  ", "# note", "\t# [x] = \"no\"", "#margin = '''", `# "`) + w.eol)
	}
}

func (w *writer) scalar() string {
	return w.pick(`"50ft"`, `'50 ft'`, `"a \" # b"`, `"""two`+w.eol+` "lines" # not one"""`, `'''it's'''`, "1_000", "0x1F", "-0.5e3", "true",
		"1998-05-01", "2026-11-29 18:00:00", "07:32:00", "nan", `"é ± 東"`, `""`, `'''a''''`, `"""a\"""""`)
}

func (w *writer) value(path string, depth int) {
	from, list := w.Len(), false
	switch w.IntN(8 + 4*depth) {
	case 0:
		list = true
		between := w.pick(" ", "", w.eol+"   ", " # why"+w.eol)
		w.WriteString("[" + between)
		n := w.IntN(4)
		for i := range n {
			w.value(fmt.Sprintf("%s[%d]", path, i), depth+1)
			if w.WriteString(between); i < n-1 || w.IntN(2) == 0 {
				w.WriteString("," + between)
			}
		}
		w.WriteString("]")
	case 1:
		list = true
		w.WriteString("{" + w.pick(" ", ""))
		n := w.IntN(3)
		for i := range n {
			key := fmt.Sprintf("k%d", i)
			w.WriteString(w.pick(key, `"`+key+`"`) + w.pick(" = ", "="))
			if w.value(path+"."+key, depth+1); i < n-1 {
				w.WriteString(w.pick(", ", " ,"))
			}
		}
		w.WriteString(" }")
	default:
		w.WriteString(w.scalar())
	}
	w.values = append(w.values, place{path, from, w.Len(), list})
}

func (w *writer) keys(table string, n int) {
	for i := range n {
		w.trivia()
		key := fmt.Sprintf("key-%d", i)
		written := w.pick(key, key, `"`+key+`"`, `'`+key+`'`)
		if w.IntN(6) == 0 {
			key, written = key+`."odd é"`, written+w.pick(` . "odd é"`, `.'odd é'`, `."odd \u00e9"`)
		}
		w.WriteString(w.pick("", "", "  ", "\t") + written + w.pick(" = ", "=", "   =  "))
		w.value(table+key, 0)
		w.WriteString(w.pick("", "", "   ", " # [[it]] = 'x'") + w.eol)
	}
}

func handWritten(seed uint64) *writer {
	w := &writer{Rand: rand.New(rand.NewPCG(seed, 7)), eol: "\n"}
	if w.IntN(3) == 0 {
		w.eol = "\r\n"
	}
	w.keys("", w.IntN(4))
	for i := range w.IntN(4) {
		w.trivia()
		name := w.pick("around", "base")
		w.WriteString(w.pick("", " ") + "[[" + w.pick(name, " "+name+" ") + "]]" + w.pick("", " # x") + w.eol)
		n := strings.Count(w.String()[:w.Len()], name+"]]") + strings.Count(w.String(), " "+name+" ]]") - 1
		w.keys(fmt.Sprintf("%s[%d].", name, n), w.IntN(3))
		if w.IntN(4) == 0 {
			w.WriteString("[" + name + ".below]" + w.eol)
			w.keys(fmt.Sprintf("%s[%d].below.", name, n), w.IntN(3))
		}
		if w.IntN(4) == 0 {
			w.WriteString(fmt.Sprintf("[t%d]", i) + w.eol)
			w.keys(fmt.Sprintf("t%d.", i), w.IntN(3))
		}
	}
	w.trivia()
	return w
}

// TestOneValueChanged: of texts written in many ways, a value set anew is the only
// thing that differs; a value added or taken out leaves all other lines as they were.
func TestOneValueChanged(t *testing.T) {
	for seed := range uint64(2000) {
		w := handWritten(seed)
		text := w.String()
		if len(w.values) == 0 {
			continue
		}
		v := w.values[w.IntN(len(w.values))]
		got, err := Apply([]byte(text), Change{Path: v.path, Value: "new one"})
		want := text[:v.from] + `"new one"` + text[v.to:]
		if err != nil || string(got) != want {
			t.Fatalf("seed %d, %s: %v\n%s\n%s", seed, v.path, err, text, difference(want, string(got)))
		}
		less, err := Apply([]byte(text), Change{Path: v.path})
		if err != nil {
			t.Fatalf("seed %d, %s taken out: %v\n%s", seed, v.path, err, text)
		}
		if !linesOf(string(less), text, strings.Count(text[v.from:v.to], "\n")+3) {
			t.Fatalf("seed %d, %s taken out:\n%s\n%s", seed, v.path, text, difference(text, string(less)))
		}
		at := w.pick("fresh", "around[0].fresh", "base[0].below.fresh", "t1.fresh", v.path+".fresh")
		more, err := Apply([]byte(text), Change{Path: at, Value: 7})
		if err == nil && !linesOf(text, string(more), 4) {
			t.Fatalf("seed %d, %s added:\n%s\n%s", seed, at, text, difference(text, string(more)))
		}
		if err == nil {
			if back, err := Apply(more, Change{Path: at}); err != nil || !linesOf(text, string(back), 4) {
				t.Fatalf("seed %d, %s taken out again: %v\n%s", seed, at, err, difference(text, string(back)))
			}
		}
	}
}

// linesOf reports whether all lines of few but one stand in many, in their order, which
// has no more than a few lines that few has not.
func linesOf(few, many string, more int) bool {
	f, m := strings.SplitAfter(few, "\n"), strings.SplitAfter(many, "\n")
	if len(f) > len(m)+1 || len(m) > len(f)+more {
		return false
	}
	changed := 0
	for _, line := range f {
		i := 0
		for i < len(m) && m[i] != line {
			i++
		}
		if i == len(m) {
			changed++
		} else {
			m = m[i+1:]
		}
	}
	return changed <= 2
}

// FuzzApply: no text and no path make it fail; what it gives differs by the change alone.
func FuzzApply(f *testing.F) {
	f.Add(hand, "name", "x")
	f.Add(hand, "overlay[0].columns", "x")
	f.Add("a = [1,\n# c\n2\n,]\n", "a[1]", "")
	f.Add("[[a.b]]\nc={d.e=1}", "a.b[0].c.d.f", "x")
	f.Fuzz(func(t *testing.T, text, path, value string) {
		var v any
		if value != "" {
			v = value
		}
		got, err := Apply([]byte(text), Change{Path: path, Value: v})
		if err != nil {
			return
		}
		if _, err := decode([]byte(strings.TrimPrefix(string(got), string(bom)))); err != nil {
			t.Errorf("%q: %v", got, err)
		}
		again, err := Apply(got, Change{Path: path, Value: v})
		if err == nil && v != nil && !strings.HasSuffix(path, "[]") && string(again) != string(got) {
			t.Errorf("%q, made again: %q", got, again)
		}
	})
}

func TestFromJSON(t *testing.T) {
	v, err := FromJSON([]byte(`{"file": "w.csv", "n": [1, 2.5, true], "in": {"b": "x", "a": null}}`))
	if got := fmt.Sprintf("%v", v); err != nil || got != "[{file w.csv} {n [1 2.5 true]} {in [{b x}]}]" {
		t.Errorf("%s, %v", got, err)
	}
	if v, err := FromJSON([]byte("null")); v != nil || err != nil {
		t.Error(v, err)
	}
	for _, bad := range []string{"", "{", "[1", `1 2`, "99999999999999999999", strings.Repeat("[", 50)} {
		if v, err := FromJSON([]byte(bad)); err == nil {
			t.Errorf("%q: %v", bad, v)
		}
	}
}
