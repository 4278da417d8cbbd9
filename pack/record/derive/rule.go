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

// Any stands in a rule for each utility.
const Any = "any"

// Limits of a rule in metres, which catch a wrong unit: the project's own
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
		return fmt.Errorf("horizontal = %q is not between 0 and %d m: is the unit right?", r.Horizontal.Stated, mostHorizontal)
	}
	return nil
}

// concerns says that a rule is about two utilities.
func (r Rule) concerns(a, b string) bool {
	is := func(code, utility string) bool { return code == Any || code == utility }
	return is(r.Between[0], a) && is(r.Between[1], b) || is(r.Between[0], b) && is(r.Between[1], a)
}

// Verdicts of a rule, by what is recorded.
const (
	Met      = "met"       // wherever both lie within their doubts, all of which are stated
	NotMet   = "not met"   // wherever both lie within their stated doubts
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

// Text tells a verdict in words, and where the rule comes from.
func (j Judgment) Text() string {
	if j.Verdict == NotKnown {
		return words.Say("rule.told_open", "asked", j.Asked, "by", j.By, "why", j.Why)
	}
	return words.Say("rule.told", "asked", j.Asked, "by", j.By, "verdict", j.Verdict, "why", j.Why)
}

// clearance is how much may be clear between two lines within the stated doubts,
// in metres; below 0 they overlap.
type clearance struct {
	least, most float64
	open        []string // what is not stated, so that less may be clear than least
}

// sameLength is how near two lengths are taken for equal: depths are rounded to
// a tenth of a micrometre.
const sameLength = 1e-6

// judge holds a clearance against what a rule asks for.
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

// judge holds a crossing against the rules of the job.
func (c *Crossing) judge(a, b Line, opts Options) {
	for i, r := range opts.Rules {
		if r.Vertical != nil && r.concerns(a.Utility, b.Utility) {
			between := oneLine()
			if !maybeOne(a, b) {
				between = clearHeight(c.Depths, [2]*float64{a.HalfWidthM, b.HalfWidthM})
			}
			c.Rules = append(c.Rules, between.judge(i, *r.Vertical, r.By, opts.Units))
		}
	}
}

// maybeOne says that two lines may be one: a recorded line of a utility, and
// readings of the same that do not say which line they are of.
func maybeOne(a, b Line) bool {
	return a.Utility == b.Utility && (a.Basis == basisReadings || b.Basis == basisReadings)
}

func oneLine() clearance {
	return clearance{math.Inf(-1), math.Inf(1), []string{words.Say("rule.one_line")}}
}

// clearHeight is the clear height between two lines that cross. A size that is
// not recorded may be none at all for the most, and any for the least.
func clearHeight(depths [2]Depth, halves [2]*float64) clearance {
	var c clearance
	if depths[0].M == nil || depths[1].M == nil {
		return clearance{math.Inf(-1), math.Inf(1), []string{words.Say("rule.no_depth")}}
	}
	if depths[0].AlsoM != nil || depths[1].AlsoM != nil { // how far off the other is, is not told
		return clearance{math.Inf(-1), math.Inf(1), []string{words.Say("rule.two_depths")}}
	}
	var tops [2]span
	var half [2]float64
	for i, d := range depths {
		tops[i], half[i] = topOf(d, halves[i])
		c.open = append(c.open, unstated(d, halves[i])...)
	}
	slices.Sort(c.open)
	c.open = slices.Compact(c.open)
	// By how much the second top is lower than the first: one of the two is
	// above, or they overlap.
	lo, hi := tops[1].least-tops[0].most, tops[1].most-tops[0].least
	left := func(lower float64) float64 { return max(lower-2*half[0], -lower-2*half[1]) }
	c.most = max(left(lo), left(hi))
	c.least = left(min(max(half[0]-half[1], lo), hi))
	return c
}

// topOf is where the top of a line may lie, and half of its size; nothing for
// one that is not recorded.
func topOf(d Depth, size *float64) (top span, half float64) {
	doubt := 0.0
	if d.DoubtM != nil {
		doubt = *d.DoubtM
	}
	if size != nil {
		half = *size
	}
	least, most := 2*half, 0.0 // of the way up to the top, where what the depth is of is not stated
	switch d.Of {
	case Top:
		least = 0
	case Center:
		least, most = half, half
	case Bottom:
		most = 2 * half
	}
	return span{*d.M - least - doubt, *d.M - most + doubt}, half
}

// unstated names what may leave less clear than the numbers say.
func unstated(d Depth, size *float64) (open []string) {
	add := func(is bool, say string) {
		if is {
			open = append(open, say)
		}
	}
	add(d.Of == "", words.Say("rule.no_part"))
	add(d.Of == Bottom, words.Say("rule.no_wall"))
	add(d.DoubtM == nil, words.Say("rule.no_doubt"))
	add(d.Basis == "between readings", words.Say("rule.between_readings"))
	add(size == nil, words.Say("rule.no_size"))
	return open
}

// judge holds stretches against the rules of the job; across is where the two
// come near one another without running beside.
func (b *ParallelRun) judge(first, second Line, across []stretch, opts Options) {
	c := clearance{least: b.LeastM, most: b.LeastM}
	for _, s := range across {
		if b.covers(s.from) {
			c.least = min(c.least, s.least)
		}
	}
	add := func(is bool, say string) {
		if is && !slices.Contains(c.open, say) {
			c.open = append(c.open, say)
		}
	}
	for _, l := range []Line{first, second} {
		if l.AccuracyM != nil {
			c.least, c.most = c.least-*l.AccuracyM, c.most+*l.AccuracyM
		}
		if l.HalfWidthM != nil {
			c.least, c.most = c.least-*l.HalfWidthM, c.most-*l.HalfWidthM
		}
		add(l.AccuracyM == nil, words.Say("rule.no_accuracy"))
		add(l.HalfWidthM == nil, words.Say("rule.no_size"))
		add(l.Basis == basisReadings, words.Say("rule.drawn_straight"))
	}
	if maybeOne(first, second) {
		c = oneLine()
	}
	for i, r := range opts.Rules {
		if r.Horizontal != nil && r.concerns(first.Utility, second.Utility) {
			b.Rules = append(b.Rules, c.judge(i, *r.Horizontal, r.By, opts.Units))
		}
	}
}
