package collect

import (
	"cmp"
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

	Place *[2]float64 `json:"place"` // latitude and longitude; null = without a place
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
			Name: nameOf(m), Who: lead.Who, When: lead.Written().UTC(), Why: lead.Why, Place: placeOf(m)})
	}
	return all
}

// placeOf is the middle of a mark; nil without a place.
func placeOf(m fieldbook.Mark) *[2]float64 {
	if m.Feature.Geometry == nil {
		return nil
	}
	at := m.Feature.Geometry.Bound().Center()
	return &[2]float64{at[1], at[0]}
}

// nameOf is a mark as people find it again: its kind, utility and label, who wrote it, and when
// by this computer's time of day.
func nameOf(m fieldbook.Mark) string {
	p, wrote := m.Feature.Properties, m.Written.Text
	if m.Kind() == "" {
		wrote = m.Leading.Text
	}
	who, at := cmp.Or(wrote.Who, words.Say("collect.nobody")), wrote.Written().Local().Format("2006-01-02 15:04:05")
	utility := record.Text(p, "utility")
	if u, err := record.FindUtility(utility); err == nil {
		utility = u.Code
	}
	if m.Kind() == "" {
		return words.Say("collect.unknown_mark", "who", who, "time", at)
	}
	if label := record.Text(p, "label"); label != "" {
		return words.Say("collect.labeled", "utility", utility, "kind", m.Kind(), "label", record.Quote(label), "who", who, "time", at)
	}
	return words.Say("collect.mark", "utility", utility, "kind", m.Kind(), "who", who, "time", at)
}
