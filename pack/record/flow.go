package record

import (
	"fmt"
	"regexp"

	"groundsheet/tiles/words"
)

// flows are the words that state which way a line flows, by the order of its
// positions; the map page reads the same.
var flows = regexp.MustCompile(`(?i)^(with|against)( the)?( line)?$`)

// unreadFlows tells of each flow that is stated in words that are not
// understood: no direction is made of them.
func unreadFlows(o Overlay) (all []Finding) {
	seen := map[string]int{}
	var order []string
	for _, f := range o.Features {
		stated := Text(f.Properties, "flow")
		if stated == "" || flows.MatchString(stated) {
			continue
		}
		if seen[stated]++; seen[stated] == 1 {
			order = append(order, stated)
		}
	}
	for _, stated := range order[:min(len(order), 10)] {
		all = append(all, Finding{Kind: "flow", Severity: Note, Where: o.File,
			Detail: words.Say("state.flow_unread", "n", fmt.Sprint(seen[stated]), "flow", Quote(stated))})
	}
	return all
}
