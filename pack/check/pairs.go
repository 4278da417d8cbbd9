package check

import (
	"fmt"

	"groundsheet/pack/record/derive"
	"groundsheet/tiles/words"
)

// lineNames names lines by their ID, and as their record calls them.
func lineNames(k derive.Result) map[string]string {
	names := map[string]string{}
	for _, l := range k.Lines {
		if names[l.ID] = l.ID; l.Title() != "" {
			names[l.ID] = fmt.Sprintf("%s (%.60q)", l.ID, l.Title())
		}
		if state := l.StateText(); state != "" && state != l.Utility {
			names[l.ID] += ", " + state
		}
	}
	return names
}

// besides tells of lines that run beside one another.
func (c *checker) besides(k derive.Result) {
	if k.ParallelRuns == nil && len(k.Lines) > 1 {
		c.add("beside", Note, nil, words.Say("beside.not_told"))
	}
	names := lineNames(k)
	for _, b := range k.ParallelRuns {
		name := func(i int) string { return fmt.Sprintf("%s line %s", b.Utilities[i], names[b.Lines[i]]) }
		c.add("beside", Warning, nil, b.Text(name(0), name(1), c.pack.Info.About.Units))
	}
}

// rules tells where a rule of clearance is not kept by what is recorded, and
// counts where that is not known.
func (c *checker) rules(k derive.Result) {
	names := lineNames(k)
	all, open := 0, 0
	each := func(utilities, lines [2]string, judged []derive.Judgment, where func(one, other string) string) {
		for _, j := range judged {
			all++
			switch j.Verdict {
			case derive.NotMet:
				one, other := utilities[0]+" line "+names[lines[0]], utilities[1]+" line "+names[lines[1]]
				c.add("rule", Warning, nil, where(one, other)+": "+j.Text())
			case derive.NotKnown:
				open++
			}
		}
	}
	for _, x := range k.Crossings {
		each(x.Utilities, x.Lines, x.Rules, func(one, other string) string {
			return words.Say("rule.at_crossing", "one", one, "other", other, "place", fmt.Sprintf("%.6f, %.6f", x.Place.Lat(), x.Place.Lon()))
		})
	}
	for _, b := range k.ParallelRuns {
		each(b.Utilities, b.Lines, b.Rules, func(one, other string) string {
			return words.Say("rule.alongside", "one", one, "other", other)
		})
	}
	if open > 0 {
		c.add("rule", Note, nil, words.Say("rule.count_open", "n", open, "all", all))
	}
}
