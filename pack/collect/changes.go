package collect

import (
	"time"

	"groundsheet/pack/fieldbook"
	"groundsheet/pack/record"
	"groundsheet/tiles/words"
)

// Change is a mark that is not as the job had it.
type Change struct {
	Mark    string    `json:"mark"` // ID
	What    string    `json:"what"` // "new", "changed", "struck", "restored"
	Kind    string    `json:"kind"`
	Utility string    `json:"utility"`
	Name    string    `json:"name"` // in words, for people
	Who     string    `json:"who"`  // of the leading entry
	When    time.Time `json:"when"`
	Why     string    `json:"why,omitempty"` // it was struck or restored
}

// What became of a mark.
const (
	Struck   = "struck"
	Restored = "restored"
)

// changesBetween lists the marks that are new, changed, struck or restored, in the order in
// which they were first written. What came struck is new to nobody: it is [Struck].
func changesBetween(before, now []fieldbook.Mark) []Change {
	all, had := []Change{}, map[string]fieldbook.Mark{}
	for _, m := range before {
		had[m.ID] = m
	}
	for _, m := range now {
		was, known := had[m.ID]
		what := ""
		switch {
		case m.Struck && (!known || !was.Struck):
			what = Struck
		case m.Struck:
		case !known:
			what = New
		case was.Struck:
			what = Restored
		case was.Leading.ID != m.Leading.ID || len(was.Rivals) != len(m.Rivals):
			what = Changed
		}
		if what == "" {
			continue
		}
		lead := m.Leading.Text
		all = append(all, Change{Mark: m.ID, What: what, Kind: m.Kind(), Utility: record.Text(m.Feature.Properties, "utility"),
			Name: nameOf(m), Who: lead.Who, When: lead.Written().UTC(), Why: lead.Why})
	}
	return all
}

// nameOf is a mark as people find it again: its kind, utility and label, with the beginning
// of its ID.
func nameOf(m fieldbook.Mark) string {
	p := m.Feature.Properties
	utility := record.Text(p, "utility")
	if u, err := record.FindUtility(utility); err == nil {
		utility = u.Code
	}
	if m.Kind() == "" {
		return words.Say("collect.unknown_mark", "id", m.ID[:8])
	}
	if label := record.Text(p, "label"); label != "" {
		return words.Say("collect.labeled", "utility", utility, "kind", m.Kind(), "label", record.Quote(label), "id", m.ID[:8])
	}
	return words.Say("collect.mark", "utility", utility, "kind", m.Kind(), "id", m.ID[:8])
}
