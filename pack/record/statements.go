package record

import (
	"regexp"
	"strings"

	"groundsheet/tiles/words"
)

// LevelA is the quality level of what was exposed and measured: a fact of one place.
const LevelA = "A"

// levels are the ways of writing a quality level of ASCE 38: "B", "b", "QL-B",
// "QLB", "Level B", "quality level b".
var levels = regexp.MustCompile(`(?i)^(?:(?:quality[\s_-]*level|level|ql)[\s_:-]*)?([a-d])$`)

// Level reads a quality level: "A" to "D"; with ok false it is none of these and
// is returned as stated.
func Level(stated string) (level string, ok bool) {
	stated = strings.TrimSpace(stated)
	if m := levels.FindStringSubmatch(stated); m != nil {
		return strings.ToUpper(m[1]), true
	}
	return stated, false
}

// unreadLevels reports the stated quality levels that are none of A to D.
func unreadLevels(o Overlay) []Finding {
	unread := tally(o, func(p map[string]any) (string, bool) {
		stated := o.LevelOf(p)
		_, ok := Level(stated)
		return Quote(stated), !ok && stated != ""
	})
	if len(unread) == 0 {
		return nil
	}
	n, levels := 0, []string{}
	for _, c := range unread {
		n, levels = n+c.n, append(levels, c.text)
	}
	return []Finding{{"quality level", Warning, o.File, 0, words.Say("level.unread", "n", n, "levels", Several(levels))}}
}

// flows are the words that state which way a line flows, by the order of its
// positions; the map page reads the same.
var flows = regexp.MustCompile(`(?i)^(with|against)( the)?( line)?$`)

// unreadFlows reports stated flows that are not understood: no direction is made
// of them.
func unreadFlows(o Overlay) (all []Finding) {
	unread := tally(o, func(p map[string]any) (string, bool) {
		stated := Text(p, "flow")
		return stated, stated != "" && !flows.MatchString(stated)
	})
	for _, c := range unread[:min(len(unread), mostUnread)] {
		all = append(all, Finding{"flow", Note, o.File, 0, words.Say("state.flow_unread", "n", c.n, "flow", Quote(c.text))})
	}
	return all
}
