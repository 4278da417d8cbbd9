package record

import (
	"regexp"

	"groundsheet/tiles/words"
)

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
