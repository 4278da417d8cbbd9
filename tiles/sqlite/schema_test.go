package sqlite

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

func check(t *testing.T, schema string, names ...string) error {
	t.Helper()
	db := OpenUntrusted(made(t, schema), Untrusted{})
	defer db.Close()
	return CheckSchema(t.Context(), db, names...)
}

func TestCheckSchema(t *testing.T) {
	doubling := "CREATE VIEW v0 AS SELECT 1 AS a;"
	for i := 1; i < 30; i++ {
		doubling += fmt.Sprintf("CREATE VIEW v%d AS SELECT x.a FROM v%d x, /* ' */ \"V%d\" y LIMIT 5;", i, i-1, i-1)
	}
	common := "CREATE VIEW v29 AS WITH v0 AS (SELECT 1 AS a)"
	for i := 1; i < 29; i++ {
		common += fmt.Sprintf(", v%d AS (SELECT x.a FROM v%d x, v%d y LIMIT 5)", i, i-1, i-1)
	}
	for name, c := range map[string]struct{ schema, says string }{
		"table":        {`CREATE TABLE v29(a)`, ""},
		"none":         {`CREATE TABLE other(a)`, ""},
		"view":         {`CREATE TABLE map(a, id); CREATE TABLE images(id, d); CREATE VIEW v29 AS SELECT a, d FROM map JOIN images ON images.id = map.id`, ""},
		"view of view": {`CREATE TABLE m(a); CREATE VIEW w AS SELECT a FROM m; CREATE VIEW v29 AS SELECT a FROM w`, ""},
		"elsewhere":    {`CREATE TABLE v29(a); CREATE VIEW w AS WITH n AS (SELECT 1) SELECT * FROM n`, ""},
		"doubling":     {doubling, "lead to more than"},
		"common":       {common + ` SELECT * FROM v28`, "WITH"},
		"virtual":      {`CREATE VIRTUAL TABLE v29 USING fts3(a)`, "virtual"},
		"under a view": {`CREATE VIRTUAL TABLE w USING rtree(a,b,c); CREATE VIEW v29 AS SELECT a FROM [w]`, "virtual"},
		"crowd":        {"BEGIN;" + many(1001) + "COMMIT", "tables"},
		"like letters": {doubling + `CREATE TABLE "É"(a); CREATE TABLE "é"(a)`, "lead to more than"},
	} {
		t.Run(name, func(t *testing.T) {
			err := check(t, c.schema, "V29")
			if c.says == "" && err != nil || c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)) {
				t.Errorf("%v", err)
			}
		})
	}
}

func many(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "CREATE TABLE t%d(a);", i)
	}
	return b.String()
}

func TestWords(t *testing.T) {
	for text, want := range map[string]string{
		`CREATE VIEW a AS SELECT * FROM B,"C d",[e f],` + "`g``h`": "create view a as select from b c d|e f|g`h",
		`x -- "y` + "\n" + `z /* ' */ w`:                           "x z w",
		`'it''s' "open`:                                            "it's|open",
		`/* open`:                                                  "",
		`[open`:                                                    "open",
		`'`:                                                        "",
	} {
		got := words(text)
		if flat := strings.FieldsFunc(strings.Join(got, "|"), func(r rune) bool { return r == '|' || r == ' ' }); !slices.Equal(flat, strings.FieldsFunc(want, func(r rune) bool { return r == '|' || r == ' ' })) {
			t.Errorf("%s: %q", text, got)
		}
	}
}

// FuzzWords: whatever the text, it ends, and what SQLite reads as plain names is found.
func FuzzWords(f *testing.F) {
	for _, s := range []string{"", "a b", "'", "\"x", "[", "--", "/*", "`a``", "é x"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		words(text)
		if got := words("/*" + strings.ReplaceAll(text, "*/", "") + "*/ name"); len(got) == 0 || got[len(got)-1] != "name" {
			t.Errorf("%q hides a name: %q", text, got)
		}
	})
}
