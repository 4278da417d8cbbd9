package brief

import (
	"slices"
	"strconv"
	"strings"

	"groundsheet/pack/record/derive"
	"groundsheet/tiles/words"
)

// besideTable lists lines that run beside one another, those in the dig area
// first. Their numbers are those on the phone's map.
func (s packData) besideTable() Section {
	out := table(words.Say("paper.beside"), words.Say("paper.beside_head"), 0.06, 0.26, 0.1, 0.12, 0.12, 0.34)
	order := make([]int, len(s.derived.ParallelRuns))
	for i := range order {
		order[i] = i
	}
	runs := s.derived.ParallelRuns
	slices.SortStableFunc(order, func(a, b int) int { return insideFirst(runs[a].InArea, runs[b].InArea) })
	for _, i := range order {
		b := s.derived.ParallelRuns[i]
		over := s.in(b.LengthM)
		if !b.InArea {
			over = words.Say("paper.outside", "what", over)
		}
		out.Rows = append(out.Rows, []string{
			"B" + strconv.Itoa(i+1), s.lineName(b.Lines[0]) + " / " + s.lineName(b.Lines[1]),
			over, s.in(b.StationsM[0][0]), s.in(b.LeastM), withRules(b.Relation, b.Rules),
		})
	}
	switch {
	case s.derived.ParallelRuns == nil && len(s.derived.Lines) > 1:
		out.Notes = []string{words.Say("beside.not_told")}
	case len(out.Rows) == 0:
		out.Notes = []string{words.Say("beside.none")}
	default:
		out.Notes = []string{words.Say("beside.table")}
	}
	return out
}

// withRules is the relation of a pair of lines with its judgments.
func withRules(relation string, rules []derive.Judgment) string {
	for _, j := range rules {
		relation += "; " + j.Text()
	}
	return sanitize(relation, noteText)
}

// rules lists the clearance rules as the job states them, and how often each is met
// by what is recorded.
func (s packData) rules() Section {
	out := table(words.Say("paper.rules"), words.Say("paper.rules_head"), 0.18, 0.14, 0.14, 0.26, 0.28)
	out.Notes = []string{words.Say("rule.limits", "length", s.in(derive.MinParallelRun))}
	counts := s.verdicts()
	least := func(l *derive.MinClearance) string {
		if l == nil {
			return words.Say("paper.not_stated")
		}
		return stated(l.Stated)
	}
	for i, r := range s.about.Rules {
		out.Rows = append(out.Rows, []string{
			words.Say("paper.rule_between", "one", stated(r.Between[0]), "other", stated(r.Between[1])),
			least(r.Vertical), least(r.Horizontal), stated(r.By), verdictCounts(counts[i]),
		})
	}
	return out
}

// verdicts counts the verdicts of each rule.
func (s packData) verdicts() map[int]map[string]int {
	counts := map[int]map[string]int{}
	add := func(rules []derive.Judgment) {
		for _, j := range rules {
			if counts[j.Rule] == nil {
				counts[j.Rule] = map[string]int{}
			}
			counts[j.Rule][j.Verdict]++
		}
	}
	for _, x := range s.derived.Crossings {
		add(x.Rules)
	}
	for _, b := range s.derived.ParallelRuns {
		add(b.Rules)
	}
	return counts
}

func verdictCounts(counts map[string]int) string {
	var parts []string
	for _, v := range []string{derive.NotMet, derive.NotKnown, derive.Met} {
		if n := counts[v]; n > 0 {
			parts = append(parts, words.Say("paper.rule_count", "verdict", v, "n", n))
		}
	}
	if len(parts) == 0 {
		return words.Say("rule.nowhere")
	}
	return strings.Join(parts, ", ")
}

// openRules says at how many places it is not known whether a rule is met.
func (s packData) openRules() []string {
	all, open := 0, 0
	for _, counts := range s.verdicts() {
		for verdict, n := range counts {
			all += n
			if verdict == derive.NotKnown {
				open += n
			}
		}
	}
	if open == 0 {
		return nil
	}
	return []string{words.Say("notknown.rules", "n", open, "all", all)}
}

// nearReading is an unknown depth at a crossing, with the nearest reading.
func (s packData) nearReading(n *derive.NearReading) string {
	if n == nil {
		return words.Say("paper.unknown")
	}
	whose := words.Say("crossing.near_other")
	if n.Own {
		whose = words.Say("crossing.near_own")
	}
	depth := depthText(&n.M, s.about.Units) + " " + depthReference(n.Of)
	return words.Say("crossing.near", "depth", depth, "apart", s.in(n.ApartM), "whose", whose)
}
