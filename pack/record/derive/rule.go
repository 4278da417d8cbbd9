package derive

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"groundsheet/pack/record"
	"groundsheet/tiles/words"
)

// Rule is a least clearance between two utilities as the job states it, for
// recorded and proposed lines alike.
type Rule struct {
	Between    [2]string     `json:"between"`    // APWA code words; "any" stands for each of them
	Vertical   *MinClearance `json:"vertical"`   // where they cross; nil = not stated
	Horizontal *MinClearance `json:"horizontal"` // where they run beside one another; nil = not stated
	By         string        `json:"by"`         // where the rule comes from
}

// MinClearance is a clearance that a rule asks for.
type MinClearance struct {
	M      float64 `json:"m"`
	Stated string  `json:"stated"` // in the job's own words
}

// Any matches each utility in a rule.
const Any = "any"

// Limits of a rule in meters, which catch a wrong unit: the project's own
// choice, no source.
const (
	mostVertical   = 10
	mostHorizontal = 50
)

// Check says what is wrong with a rule, or nil.
func (r Rule) Check() error {
	for _, code := range r.Between {
		if code == Any {
			continue
		}
		if _, err := record.FindUtility(code); err != nil {
			return fmt.Errorf(`between: %w, or "any"`, err)
		}
	}
	switch {
	case strings.TrimSpace(r.By) == "":
		return fmt.Errorf(`it does not say where it comes from: give by = "operator's standard, sheet 4"`)
	case r.Vertical == nil && r.Horizontal == nil:
		return fmt.Errorf(`it asks for nothing: give vertical = "12 in", horizontal = "5 ft" or both`)
	case r.Vertical != nil && !(r.Vertical.M > 0 && r.Vertical.M <= mostVertical):
		return fmt.Errorf("vertical = %q is not between 0 and %d m: is the unit right?", r.Vertical.Stated, mostVertical)
	case r.Horizontal != nil && !(r.Horizontal.M > 0 && r.Horizontal.M <= mostHorizontal):
		return fmt.Errorf("horizontal = %q is not between 0 and %d m: is the unit right?", r.Horizontal.Stated,
			mostHorizontal)
	}
	return nil
}

// concerns reports whether a rule applies to two utilities.
func (r Rule) concerns(a, b string) bool {
	is := func(code, utility string) bool { return code == Any || code == utility }
	return is(r.Between[0], a) && is(r.Between[1], b) || is(r.Between[0], b) && is(r.Between[1], a)
}

// Verdicts of a rule, by what is recorded.
const (
	Met      = "met"       // wherever both lie within their uncertainties, all of which are stated
	NotMet   = "not met"   // wherever both lie within their stated uncertainties
	NotKnown = "not known" // neither
)

// Judgment is what a rule says of a crossing, or of lines beside one another.
type Judgment struct {
	Rule    int      `json:"index"` // of the job's rules, from 0
	Verdict string   `json:"verdict"`
	Why     string   `json:"why"`   // in words for people
	Asked   string   `json:"asked"` // the least clearance, as stated
	By      string   `json:"by"`
	LeastM  *float64 `json:"least_m"` // what may be clear at least; nil = not known
	MostM   *float64 `json:"most_m"`  // and at most by what is stated; nil = not known
}

// Text is the verdict in words, with the source of the rule.
func (j Judgment) Text() string {
	if j.Verdict == NotKnown {
		return words.Say("rule.told_open", "asked", j.Asked, "by", j.By, "why", j.Why)
	}
	return words.Say("rule.told", "asked", j.Asked, "by", j.By, "verdict", j.Verdict, "why", j.Why)
}

// clearance is the clear distance between two lines within the stated uncertainties,
// in meters; below 0 they overlap.
type clearance struct {
	least, most float64
	open        []string // what is not stated, so that less may be clear than least
}

// sameLength is the difference below which two lengths count as equal: depths are rounded to
// a tenth of a micrometer.
const sameLength = 1e-6

// judge compares a clearance with the least that a rule asks for.
func (c clearance) judge(index int, asked MinClearance, by, units string) Judgment {
	in := func(m float64) string { return record.LengthsIn(units)(max(m, 0)) }
	j := Judgment{Rule: index, Verdict: NotKnown, Asked: asked.Stated, By: by}
	if !math.IsInf(c.most, 0) {
		j.MostM = &c.most
	}
	if len(c.open) == 0 {
		j.LeastM = &c.least
	}
	switch {
	case c.most < asked.M-sameLength && c.most <= 0:
		j.Verdict, j.Why = NotMet, words.Say("rule.none_left")
	case c.most < asked.M-sameLength:
		j.Verdict, j.Why = NotMet, words.Say("rule.most_left", "most", in(c.most))
	case len(c.open) > 0:
		j.Why = words.Say("rule.open", "open", words.List(c.open))
	case c.least >= asked.M-sameLength:
		j.Verdict, j.Why = Met, words.Say("rule.least_left", "least", in(c.least))
	default:
		j.Why = words.Say("rule.span_left", "least", in(c.least), "most", in(c.most))
	}
	if j.Verdict == NotMet && len(c.open) > 0 { // what is not stated may keep it all the same
		j.Why = words.Say("rule.open_too", "why", j.Why, "open", words.List(c.open))
	}
	return j
}

// judgeAll judges the clearance between two lines by the rules that ask for one.
func judgeAll(a, b Line, opts Options, asked func(Rule) *MinClearance, between func() clearance) (all []Judgment) {
	var c *clearance
	for i, r := range opts.Rules {
		least := asked(r)
		if least == nil || !r.concerns(a.Utility, b.Utility) {
			continue
		}
		if c == nil {
			c = &clearance{math.Inf(-1), math.Inf(1), []string{words.Say("rule.one_line")}}
			if !maybeOne(a, b) {
				*c = between()
			}
		}
		all = append(all, c.judge(i, *least, r.By, opts.Units))
	}
	return all
}

// judge applies the vertical clearance rules.
func (c *Crossing) judge(a, b Line, opts Options) {
	c.Rules = judgeAll(a, b, opts, func(r Rule) *MinClearance { return r.Vertical }, func() clearance {
		return clearHeight(c.Depths, [2]*float64{a.HalfWidthM, b.HalfWidthM})
	})
}

// maybeOne reports whether two lines may be one: a recorded line of a utility, and
// readings of the same that do not say which line they are of.
func maybeOne(a, b Line) bool {
	return a.Utility == b.Utility && (a.Basis == basisReadings || b.Basis == basisReadings)
}

// clearHeight is the clear height between two lines that cross. A size that is
// not recorded may be none at all for the most, and any for the least.
func clearHeight(depths [2]Depth, halves [2]*float64) clearance {
	var c clearance
	if depths[0].M == nil || depths[1].M == nil {
		return clearance{math.Inf(-1), math.Inf(1), []string{words.Say("rule.no_depth")}}
	}
	if depths[0].AlsoM != nil || depths[1].AlsoM != nil { // the accuracy of the other is not known
		return clearance{math.Inf(-1), math.Inf(1), []string{words.Say("rule.two_depths")}}
	}
	var tops [2]depthRange
	var half [2]float64
	for i, d := range depths {
		tops[i], half[i] = topOf(d, halves[i])
		c.leaveOpen(d.Of == "", words.Say("rule.no_part"))
		c.leaveOpen(d.Of == Bottom, words.Say("rule.no_wall"))
		c.leaveOpen(d.DoubtM == nil, words.Say("rule.no_doubt"))
		c.leaveOpen(d.Basis == "between readings", words.Say("rule.between_readings"))
		c.leaveOpen(halves[i] == nil, words.Say("rule.no_size"))
	}
	slices.Sort(c.open)
	// By how much the second top is lower than the first: one of the two is
	// above, or they overlap.
	lo, hi := tops[1].least-tops[0].most, tops[1].most-tops[0].least
	left := func(lower float64) float64 { return max(lower-2*half[0], -lower-2*half[1]) }
	c.most = max(left(lo), left(hi))
	c.least = left(min(max(half[0]-half[1], lo), hi))
	return c
}

// leaveOpen names what may leave less clear than the numbers say, once.
func (c *clearance) leaveOpen(open bool, say string) {
	if open && !slices.Contains(c.open, say) {
		c.open = append(c.open, say)
	}
}

// judge applies the horizontal clearance rules; across is where the two lines come
// near one another without running parallel.
func (p *ParallelRun) judge(a, b Line, across []interval, opts Options) {
	p.Rules = judgeAll(a, b, opts, func(r Rule) *MinClearance { return r.Horizontal }, func() clearance {
		c := clearance{least: p.LeastM, most: p.LeastM}
		for _, s := range across {
			if p.covers(s.from) {
				c.least = min(c.least, s.least)
			}
		}
		for _, l := range []Line{a, b} {
			accuracy, half := orZero(l.AccuracyM), orZero(l.HalfWidthM)
			c.least, c.most = c.least-accuracy-half, c.most+accuracy-half
			c.leaveOpen(l.AccuracyM == nil, words.Say("rule.no_accuracy"))
			c.leaveOpen(l.HalfWidthM == nil, words.Say("rule.no_size"))
			c.leaveOpen(l.Basis == basisReadings, words.Say("rule.drawn_straight"))
		}
		return c
	})
}
