package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
)

// Bounds of what a query on an untrusted file may lead to. A view that names two
// others, each of which names two others, and so on, grows without bound while
// the query is prepared, and nothing ends that.
const (
	mostObjects = 1000
	mostViews   = 64 // that one name may lead to, counted as often as they are used
)

// CheckSchema proves that queries on the named tables or views of an untrusted
// file can be prepared: they lead to ordinary tables and to a few plain views.
// Run it before the first such query. Names that the file has not are passed
// over. The error says what is wrong.
func CheckSchema(ctx context.Context, db *sql.DB, names ...string) error {
	rows, err := db.QueryContext(ctx, `SELECT name, sql FROM sqlite_schema WHERE type IN ('table','view') AND sql IS NOT NULL LIMIT ?`, mostObjects+1)
	if err != nil {
		return err
	}
	defer rows.Close()
	s := schema{}
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			return err
		}
		s[lower(name)] = words(text)
	}
	if err := rows.Err(); err != nil {
		return err
	}
	if len(s) > mostObjects {
		return fmt.Errorf("it has more than %d tables", mostObjects)
	}
	for _, name := range names {
		left := mostViews
		if err := s.follow(lower(name), &left); err != nil {
			return err
		}
	}
	return nil
}

// schema is the words of each definition, in lower case, by name.
type schema map[string][]string

// follow counts the views that a name leads to.
func (s schema) follow(name string, left *int) error {
	text := s[name]
	isView := false
	for i, w := range text {
		if w == "table" || w == "view" {
			isView = w == "view"
			if i > 0 && text[i-1] == "virtual" {
				return fmt.Errorf("%q is a virtual table", name)
			}
			break
		}
	}
	if !isView {
		return nil
	}
	if *left--; *left < 0 {
		return fmt.Errorf("its views lead to more than %d others", mostViews)
	}
	for _, w := range text[1:] {
		if w == "with" {
			return fmt.Errorf("the view %q is made of other queries (WITH)", name)
		}
		if _, known := s[w]; known && w != name {
			if err := s.follow(w, left); err != nil {
				return err
			}
		}
	}
	return nil
}

// words takes the names and keywords out of an SQL text, in lower case; what
// stands in quotes of any kind may be a name too (SQLite, "SQLite Keywords").
func words(text string) []string {
	var all []string
	for i := 0; i < len(text); {
		rest := text[i:]
		switch c := text[i]; {
		case strings.HasPrefix(rest, "--"):
			i = after(text, i+2, "\n")
		case strings.HasPrefix(rest, "/*"):
			i = after(text, i+2, "*/")
		case c == '\'' || c == '"' || c == '`':
			word, end := quoted(text, i+1, c)
			all = append(all, word)
			i = end
		case c == '[':
			end := after(text, i+1, "]")
			all = append(all, lower(strings.TrimSuffix(text[i+1:end], "]")))
			i = end
		case inWord(c):
			end := i
			for end < len(text) && inWord(text[end]) {
				end++
			}
			all = append(all, lower(text[i:end]))
			i = end
		default:
			i++
		}
	}
	return all
}

func after(text string, from int, what string) int {
	if n := strings.Index(text[from:], what); n >= 0 {
		return from + n + len(what)
	}
	return len(text)
}

// quoted reads up to the closing quote; a doubled one stands for itself.
func quoted(text string, from int, quote byte) (word string, end int) {
	var b strings.Builder
	for i := from; i < len(text); i++ {
		if text[i] == quote {
			if i+1 >= len(text) || text[i+1] != quote {
				return lower(b.String()), i + 1
			}
			i++
		}
		b.WriteByte(text[i])
	}
	return lower(b.String()), len(text)
}

func inWord(c byte) bool {
	return c == '_' || c == '$' || c >= 0x80 || c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z'
}

// lower folds case as SQLite does for names: of ASCII letters alone.
func lower(s string) string {
	b := []byte(s)
	for i, c := range b {
		if c >= 'A' && c <= 'Z' {
			b[i] = c + 'a' - 'A'
		}
	}
	return string(b)
}
