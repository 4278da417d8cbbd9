// Package words holds the texts about a site: the records of what is under the
// ground and their limits, the verdict on a pack, the
// cautions. All of them are in words.json, in American trade English, so that
// it can be read in one go. The map page reads the same file.
//
// A text has fields in braces: "{n} {n|line|lines} without depth". A field of
// two or three parts chooses by a number: {n|one|other}, {n|none|one|other}.
package words

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"sync"
)

//go:embed words.json
var file []byte

// texts are the texts by "group.name".
var texts = sync.OnceValue(func() map[string]string {
	var groups map[string]map[string]string
	if err := json.Unmarshal(file, &groups); err != nil {
		panic(fmt.Sprintf("words.json: %v", err)) // embedded, and tested
	}
	all := map[string]string{}
	for group, list := range groups {
		for name, text := range list {
			all[group+"."+name] = text
		}
	}
	return all
})

var field = regexp.MustCompile(`\{([a-z][a-z0-9_]*)((?:\|[^{}|]*)*)\}`)

// Say gives the text of a key, its fields filled from pairs of name and value.
// A key or a field that does not exist is a programming error: it panics,
// and a test finds every use in the source.
func Say(key string, pairs ...any) string {
	text, known := texts()[key]
	if !known {
		panic("words: no text " + key)
	}
	values := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		values[pairs[i].(string)] = pairs[i+1]
	}
	return field.ReplaceAllStringFunc(text, func(f string) string {
		part := field.FindStringSubmatch(f)
		value, given := values[part[1]]
		if !given {
			panic(fmt.Sprintf("words: %s wants %q", key, part[1]))
		}
		if part[2] == "" {
			return fmt.Sprint(value)
		}
		return choose(fmt.Sprint(value), strings.Split(part[2][1:], "|"))
	})
}

// choose takes one of two or three forms by a number.
func choose(n string, forms []string) string {
	at := len(forms) - 1
	switch {
	case n == "1":
		at = len(forms) - 2
	case n == "0" && len(forms) == 3:
		at = 0
	}
	return forms[max(at, 0)]
}

// List joins items as a sentence does: "a", "a and b", "a, b and c".
func List(items []string) string {
	if n := len(items); n > 1 {
		return strings.Join(items[:n-1], ", ") + " and " + items[n-1]
	}
	return strings.Join(items, "")
}
