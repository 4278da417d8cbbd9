package tomledit

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
)

var dayText = regexp.MustCompile(`^\d{4}-\d\d-\d\d$`)

func isDay(s string) bool {
	var d toml.LocalDate
	return dayText.MatchString(s) && d.UnmarshalText([]byte(s)) == nil
}

// Quote writes a string as TOML.
func Quote(s string) (string, error) {
	if !utf8.ValidString(s) {
		return "", fmt.Errorf("%q is no UTF-8 text", s)
	}
	if !strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == '"' || r == '\\' || r == 0x7f }) {
		return `"` + s + `"`, nil
	}
	b, err := toml.Marshal(map[string]string{"v": s})
	if err != nil {
		return "", err
	}
	return strings.TrimSpace(strings.TrimPrefix(string(b), "v = ")), nil
}

// render writes a value on one line.
func render(v any) (string, error) {
	switch v := v.(type) {
	case string:
		return Quote(v)
	case bool:
		return strconv.FormatBool(v), nil
	case int:
		return strconv.Itoa(v), nil
	case int64:
		return strconv.FormatInt(v, 10), nil
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return "", fmt.Errorf("%v is no number that is stated", v)
		}
		text := strconv.FormatFloat(v, 'f', -1, 64)
		if !strings.Contains(text, ".") {
			text += ".0"
		}
		return text, nil
	case Day:
		if !isDay(string(v)) {
			return "", fmt.Errorf("%q is no day: write YYYY-MM-DD", string(v))
		}
		return string(v), nil
	case []any:
		return renderAll("[", "]", len(v), func(i int) (string, error) { return render(v[i]) })
	case Table:
		return renderAll("{ ", " }", len(v), func(i int) (string, error) { return renderField(v[i]) })
	}
	return "", fmt.Errorf("%v (%T) cannot be written into a TOML file", v, v)
}

func renderAll(open, end string, n int, one func(int) (string, error)) (string, error) {
	all := make([]string, n)
	for i := range all {
		var err error
		if all[i], err = one(i); err != nil {
			return "", err
		}
	}
	if n == 0 {
		return strings.TrimSpace(open) + strings.TrimSpace(end), nil
	}
	return open + strings.Join(all, ", ") + end, nil
}

func renderField(f Field) (string, error) {
	text, err := render(f.Value)
	return step{key: f.Key}.String() + " = " + text, err
}

// valueAt is what a decoded text has at a place, or nil.
func valueAt(v any, at path) any {
	for _, s := range at {
		switch in := v.(type) {
		case map[string]any:
			if s.list {
				return nil
			}
			v = in[s.key]
		case []any:
			if !s.list || s.index < 0 || s.index >= len(in) {
				return nil
			}
			v = in[s.index]
		default:
			return nil
		}
	}
	return v
}

// expected is the decoded text with a change made; nothing of old is changed.
func expected(old map[string]any, at path, value any) (map[string]any, error) {
	var v any
	if value != nil {
		var err error
		if v, err = normal(value); err != nil {
			return nil, err
		}
	}
	out, err := with(old, at, v, at)
	if err != nil {
		return nil, err
	}
	return out.(map[string]any), nil
}

func with(in any, at path, v any, whole path) (any, error) {
	if len(at) == 0 {
		return v, nil
	}
	s := at[0]
	if !s.list {
		table, ok := in.(map[string]any)
		if !ok && in != nil {
			return nil, byHand(whole.String(), "what it lies in is no table")
		}
		out := map[string]any{}
		for k, x := range table {
			out[k] = x
		}
		next, err := with(out[s.key], at[1:], v, whole)
		if out[s.key] = next; next == nil {
			delete(out, s.key)
		}
		return out, err
	}
	list, ok := in.([]any)
	if !ok && (in != nil || s.index >= 0) {
		return nil, byHand(whole.String(), "there is no such list")
	}
	if s.index >= len(list) {
		return nil, byHand(whole.String(), fmt.Sprintf("the list has %d", len(list)))
	}
	if s.index < 0 {
		return append(list[:len(list):len(list)], v), nil
	}
	next, err := with(list[s.index], at[1:], v, whole)
	out := append([]any{}, list[:s.index]...)
	if next != nil {
		out = append(out, next)
	}
	return append(out, list[s.index+1:]...), err
}

// prune leaves empty tables and lists of a table out: whether one is written makes
// no difference to who reads the file.
func prune(v any) any {
	switch v := v.(type) {
	case map[string]any:
		out := map[string]any{}
		for k, x := range v {
			switch x := prune(x).(type) {
			case map[string]any:
				if len(x) > 0 {
					out[k] = x
				}
			case []any:
				if len(x) > 0 {
					out[k] = x
				}
			default:
				out[k] = x
			}
		}
		return out
	case []any:
		out := make([]any, len(v))
		for i := range v {
			out[i] = prune(v[i])
		}
		return out
	}
	return v
}

// same compares decoded values; a number that is none is like itself.
func same(a, b any) bool {
	switch a := a.(type) {
	case map[string]any:
		b, ok := b.(map[string]any)
		if !ok || len(a) != len(b) {
			return false
		}
		for k, x := range a {
			if y, has := b[k]; !has || !same(x, y) {
				return false
			}
		}
		return true
	case []any:
		b, ok := b.([]any)
		if !ok || len(a) != len(b) {
			return false
		}
		for i := range a {
			if !same(a[i], b[i]) {
				return false
			}
		}
		return true
	case float64:
		b, ok := b.(float64)
		return ok && (a == b || a != a && b != b)
	}
	return fmt.Sprintf("%T %v", a, a) == fmt.Sprintf("%T %v", b, b)
}
