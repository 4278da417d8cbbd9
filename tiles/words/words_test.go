package words

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

func TestSay(t *testing.T) {
	texts()["test.lines"] = "{n} {n|line|lines} of {utility}{n|, none|, one|, more}"
	defer delete(texts(), "test.lines")
	for n, want := range map[int]string{0: "0 lines of gas, none", 1: "1 line of gas, one", 2: "2 lines of gas, more"} {
		if got := Say("test.lines", "n", n, "utility", "gas"); got != want {
			t.Errorf("%d: %q, want %q", n, got, want)
		}
	}
	for _, bad := range []func(){func() { Say("test.none") }, func() { Say("test.lines", "n", 1) }} {
		func() {
			defer func() {
				if recover() == nil {
					t.Error("a slip went by")
				}
			}()
			bad()
		}()
	}
}

func TestList(t *testing.T) {
	for want, items := range map[string][]string{"": nil, "a": {"a"}, "a and b": {"a", "b"}, "a, b and c": {"a", "b", "c"}} {
		if got := List(items); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// call is one use of a text in the source.
type call struct {
	place  string
	key    string
	fields []string
}

// TestEveryTextIsUsedAsItIsWritten finds each use in Go and on the map page:
// every key exists, its fields are given, and no text is without a use.
func TestEveryTextIsUsedAsItIsWritten(t *testing.T) {
	root := filepath.Join("..", "..")
	var calls []call
	for _, top := range []string{"tiles", "pack", "serve", "cmd"} {
		err := filepath.WalkDir(filepath.Join(root, top), func(path string, d fs.DirEntry, err error) error {
			switch {
			case err != nil:
				return err
			case d.IsDir() && (d.Name() == "node_modules" || d.Name() == "dist"):
				return filepath.SkipDir
			case strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go"):
				calls = append(calls, inGo(t, path)...)
			case strings.HasSuffix(path, ".ts"):
				calls = append(calls, inPage(t, path)...)
			case strings.HasSuffix(path, ".html") && filepath.Base(filepath.Dir(path)) == "status":
				calls = append(calls, inTemplate(t, path)...)
			case strings.HasSuffix(path, ".html") && filepath.Base(filepath.Dir(path)) == "web":
				calls = append(calls, inDocument(t, path)...)
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	used := map[string]bool{}
	for _, c := range calls {
		used[c.key] = true
		want, known := fieldsOf(c.key)
		if !known {
			t.Errorf("%s: there is no text %q", c.place, c.key)
		} else if got := slices.Sorted(slices.Values(c.fields)); !slices.Equal(got, want) {
			t.Errorf("%s: %q has the fields %v, given are %v", c.place, c.key, want, got)
		}
	}
	for _, key := range slices.Sorted(maps.Keys(texts())) {
		if !used[key] {
			t.Errorf("nobody says %q", key)
		}
	}
}

// inGo finds words.Say("key", "field", value, …).
func inGo(t *testing.T, path string) (calls []call) {
	set := token.NewFileSet()
	parsed, err := parser.ParseFile(set, path, nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	ast.Inspect(parsed, func(n ast.Node) bool {
		c, ok := n.(*ast.CallExpr)
		if !ok {
			return true
		}
		s, ok := c.Fun.(*ast.SelectorExpr)
		if !ok || s.Sel.Name != "Say" {
			return true
		}
		if x, ok := s.X.(*ast.Ident); !ok || x.Name != "words" {
			return true
		}
		found := call{place: set.Position(c.Pos()).String()}
		for i := 0; i < len(c.Args); i += 1 + min(i, 1) {
			literal, ok := c.Args[i].(*ast.BasicLit)
			if !ok {
				t.Errorf("%s: keys and fields are written out, so that they can be found", found.place)
				return true
			}
			text, _ := strconv.Unquote(literal.Value)
			if i == 0 {
				found.key = text
			} else {
				found.fields = append(found.fields, text)
			}
		}
		calls = append(calls, found)
		return true
	})
	return calls
}

var pageCall = regexp.MustCompile(`\bsay\(\s*"([^"]+)"`)

// inPage finds say("key") and say("key", { field, field: value }), the fields
// on their own level.
func inPage(t *testing.T, path string) (calls []call) {
	source, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	text := string(source)
	if !strings.Contains(text, `/words"`) { // it says nothing out of the file
		return nil
	}
	for _, at := range pageCall.FindAllStringSubmatchIndex(text, -1) {
		c := call{place: path, key: text[at[2]:at[3]]}
		rest := strings.TrimLeft(text[at[1]:], " \n\t")
		if after, has := strings.CutPrefix(rest, ","); has {
			for _, f := range strings.Split(strings.Trim(flat(strings.TrimLeft(after, " \n\t")), "{}"), ",") {
				if f = strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(f), ":")); f != "" {
					c.fields = append(c.fields, f)
				}
			}
		}
		calls = append(calls, c)
	}
	return calls
}

var (
	templateCall  = regexp.MustCompile(`\bsay "([^"]+)"((?: "[^"]+" (?:\([^)]*\)|[^\s)}]+))*)`)
	templateField = regexp.MustCompile(` "([^"]+)" (?:\([^)]*\)|[^\s)}]+)`)
)

// inTemplate finds say "key" "field" value.
func inTemplate(t *testing.T, path string) (calls []call) {
	source, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, found := range templateCall.FindAllStringSubmatch(string(source), -1) {
		c := call{place: path, key: found[1]}
		for _, field := range templateField.FindAllStringSubmatch(found[2], -1) {
			c.fields = append(c.fields, field[1])
		}
		calls = append(calls, c)
	}
	return calls
}

var documentText = regexp.MustCompile(`\{\{(\w+\.\w+)\}\}`)

// inDocument finds {{key}}, which the page's build fills.
func inDocument(t *testing.T, path string) (calls []call) {
	source, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, at := range documentText.FindAllStringSubmatch(string(source), -1) {
		calls = append(calls, call{place: path, key: at[1]})
	}
	return calls
}

// flat gives an object literal as field names alone: the values go, with all
// that stands in brackets or quotes within them.
func flat(source string) string {
	var b strings.Builder
	depth, value, quote := 0, false, rune(0)
	for _, r := range source {
		switch {
		case quote != 0:
			if r == quote {
				quote = 0
			}
			continue
		case r == '"' || r == '\'' || r == '`':
			quote = r
			continue
		case r == '{' || r == '(' || r == '[':
			if depth++; depth > 1 {
				continue
			}
		case r == '}' || r == ')' || r == ']':
			if depth--; depth > 0 {
				continue
			}
			if r == '}' {
				b.WriteRune(r)
			}
			return b.String()
		case depth > 1:
			continue
		case r == ':':
			b.WriteRune(r)
			value = true
			continue
		case r == ',':
			value = false
		}
		if !value {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// british lists spellings that an American reader stumbles over.
var british = regexp.MustCompile(`(?i)\b(cent(re|red|res)|colour\w*|met(re|res)|fib(re|res)|grey\w*|licence|kilomet(re|res)|neighbour\w*|catalogue|behaviour|favour\w*|judgement|mould|programme|organis\w*|recognis\w*|spoilt|learnt|whilst|amongst|cancelled|labelled|travelled|modelled|analyse[ds]?|centimet(re|res)|millimet(re|res)|defence|storey|plough)\b`)

func TestAmericanSpelling(t *testing.T) {
	for _, key := range slices.Sorted(maps.Keys(texts())) {
		if found := british.FindString(texts()[key]); found != "" {
			t.Errorf("%s: %q", key, found)
		}
	}
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	if found := british.FindAllString(string(readme), -1); found != nil {
		t.Errorf("README.md: %q", found)
	}
}

// TestAmericanSpellingOfMessages looks at the sentences in Go: texts with a blank
// in them. What records may say in British is read, and stands alone.
func TestAmericanSpellingOfMessages(t *testing.T) {
	seen := 0
	for _, top := range []string{"tiles", "pack", "serve", "cmd"} {
		err := filepath.WalkDir(filepath.Join("..", "..", top), func(path string, d fs.DirEntry, err error) error {
			if err == nil && d.IsDir() && d.Name() == "node_modules" {
				return filepath.SkipDir
			}
			if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			set := token.NewFileSet()
			parsed, err := parser.ParseFile(set, path, nil, 0)
			if err != nil {
				return err
			}
			ast.Inspect(parsed, func(n ast.Node) bool {
				if f, ok := n.(*ast.Field); ok && f.Tag != nil {
					return false
				}
				l, ok := n.(*ast.BasicLit)
				if !ok || l.Kind != token.STRING || !strings.Contains(l.Value, " ") {
					return true
				}
				seen++
				if found := british.FindString(l.Value); found != "" {
					t.Errorf("%s: %q in %s", set.Position(l.Pos()), found, l.Value)
				}
				return true
			})
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if seen < 1000 {
		t.Errorf("only %d sentences were seen", seen)
	}
}

// fieldsOf gives the names of the fields of a text, sorted; false when there is
// no such text.
func fieldsOf(key string) (names []string, known bool) {
	text, known := texts()[key]
	for _, part := range field.FindAllStringSubmatch(text, -1) {
		names = append(names, part[1])
	}
	slices.Sort(names)
	return slices.Compact(names), known
}
