package record

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"groundsheet/tiles/words"
)

// LevelA is the quality level of what was exposed and measured: a fact of one place.
const LevelA = "A"

// levels are the ways of writing a quality level of ASCE 38: "B", "b", "QL-B",
// "QLB", "Level B", "quality level b".
var levels = regexp.MustCompile(`(?i)^(?:(?:quality[\s_-]*level|level|ql)[\s_:-]*)?([a-d])$`)

// Level reads a quality level: "A" to "D", or with ok false the words as they
// stand, which are none of these.
func Level(stated string) (level string, ok bool) {
	stated = strings.TrimSpace(stated)
	if m := levels.FindStringSubmatch(stated); m != nil {
		return strings.ToUpper(m[1]), true
	}
	return stated, false
}

// unreadLevels tells of the quality levels that are none of A to D.
func unreadLevels(o Overlay) []Finding {
	n, seen := 0, []string{}
	for _, f := range o.Features {
		stated := o.LevelOf(f.Properties)
		if _, ok := Level(stated); ok || stated == "" {
			continue
		}
		n++
		if len(seen) <= 5 && !slices.Contains(seen, Quote(stated)) {
			seen = append(seen, Quote(stated))
		}
	}
	if n == 0 {
		return nil
	}
	return []Finding{{"quality level", Warning, o.File, 0, words.Say("level.unread", "n", fmt.Sprint(n), "levels", Several(seen))}}
}
