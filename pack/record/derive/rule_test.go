package derive

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"groundsheet/pack/record"
	"groundsheet/tiles/measure"
)

func inches(v float64) *MinClearance { return &MinClearance{v * measure.Inch, "stated"} }

func TestRuleCheck(t *testing.T) {
	for name, c := range map[string]struct {
		rule Rule
		says string
	}{
		"good":            {Rule{[2]string{"gas", "gas"}, inches(12), nil, "sheet 4"}, ""},
		"any":             {Rule{[2]string{"gas", "any"}, nil, inches(60), "sheet 4"}, ""},
		"no such utility": {Rule{[2]string{"gas", "power"}, inches(12), nil, "sheet 4"}, `"power" is not in the APWA`},
		"no source":       {Rule{[2]string{"gas", "gas"}, inches(12), nil, " "}, "where it comes from"},
		"asks nothing":    {Rule{[2]string{"gas", "gas"}, nil, nil, "sheet 4"}, "asks for nothing"},
		"none":            {Rule{[2]string{"gas", "gas"}, inches(0), nil, "sheet 4"}, "vertical"},
		"too high":        {Rule{[2]string{"gas", "gas"}, inches(400), nil, "sheet 4"}, "is the unit right"},
		"too wide":        {Rule{[2]string{"gas", "gas"}, nil, inches(2000), "sheet 4"}, "horizontal"},
	} {
		if err := c.rule.Check(); (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestRuleConcerns(t *testing.T) {
	for _, c := range []struct {
		between [2]string
		a, b    string
		want    bool
	}{
		{[2]string{"gas", "electric"}, "electric", "gas", true}, {[2]string{"gas", "electric"}, "gas", "gas", false},
		{[2]string{"gas", "gas"}, "gas", "gas", true}, {[2]string{"gas", "gas"}, "gas", "water", false},
		{[2]string{"gas", "any"}, "water", "gas", true}, {[2]string{"any", "gas"}, "gas", "gas", true}, {[2]string{"gas", "any"}, "water", "sewer", false},
	} {
		if got := (Rule{Between: c.between}).concerns(c.a, c.b); got != c.want {
			t.Errorf("%v of %s and %s: %v", c.between, c.a, c.b, got)
		}
	}
}

func exact(depth, of, size, doubt string) map[string]any {
	p := pipe(depth, of, size)
	p["depth_accuracy"] = doubt
	return p
}

// By hand: gas from 24 to 28 in, water from 41 in, both ± 1 in: 11 to 15 in clear.
func TestRulesAtACrossing(t *testing.T) {
	gas, water := exact("24in", "top", "4 in", "1 in"), exact("41in", "top", "6 in", "1 in")
	for name, c := range map[string]struct {
		gas, water map[string]any
		asked      float64 // inches
		verdict    string
		says       string
	}{
		"kept":                 {gas, water, 11, Met, "there is at least 11 in between them"},
		"within the doubts":    {gas, water, 12, NotKnown, "there is 11 in to 15 in between them"},
		"broken":               {gas, water, 15.5, NotMet, "at most 15 in between them"},
		"they overlap":         {gas, exact("26in", "top", "6 in", "0.5 in"), 1, NotMet, "no room between them"},
		"no doubt stated":      {pipe("24in", "top", "4 in"), water, 2, NotKnown, "how far off a depth may be"},
		"none stated, broken":  {pipe("24in", "top", "4 in"), water, 16, NotMet, "at most 14 in between them. Not stated: how far off a depth may be (depth_accuracy)"},
		"no size":              {exact("24in", "top", "", "1 in"), water, 2, NotKnown, "not stated: a size"},
		"no size, broken":      {exact("24in", "top", "", "1 in"), water, 20, NotMet, "at most 19 in between them"},
		"no part":              {exact("24in", "", "4 in", "1 in"), water, 2, NotKnown, "what a depth is measured to"},
		"invert":               {exact("28in", "invert", "4 in", "1 in"), water, 2, NotKnown, "the wall of the pipe below"},
		"no depth":             {map[string]any{"size": "4 in"}, water, 2, NotKnown, "not stated: a depth"},
		"nothing but a number": {pipe("24in", "", ""), pipe("41in", "", ""), 18, NotMet, "at most 17 in between them"},
	} {
		x := crossed(t, c.gas, c.water)
		rules := []Rule{{Between: [2]string{"sewer", "gas"}, Vertical: inches(1), By: "another"}, {Between: [2]string{"water", "any"}, Vertical: inches(c.asked), By: "sheet 4"}}
		k := From([]record.Overlay{recordOf(t, "g", "gas", lineOf(c.gas, at(-20, 0), at(20, 0))), recordOf(t, "w", "water", lineOf(c.water, at(0, -20), at(0, 20)))}, square(50), Options{Rules: rules})
		if len(k.Crossings) != 1 || len(k.Crossings[0].Rules) != 1 || k.Crossings[0].Kind != x.Kind {
			t.Fatalf("%s: %+v", name, k.Crossings)
		}
		j := k.Crossings[0].Rules[0]
		if j.Rule != 1 || j.Verdict != c.verdict || !strings.Contains(j.Why, c.says) || !strings.HasPrefix(j.Text(), "clearance rule of stated (sheet 4): "+map[string]string{Met: "met as recorded; ", NotMet: "not met as recorded; ", NotKnown: "not known whether it is met; "}[c.verdict]) {
			t.Errorf("%s: %+v, %s", name, j, j.Text())
		}
	}
}

// TestVerdictsOfHeights places both lines anywhere within their stated doubts:
// where a rule is said to be kept no placement breaks it, and where it is said
// not to be kept none keeps it.
func TestVerdictsOfHeights(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 2026))
	parts := []string{Top, Center, Bottom, ""}
	one := func() (Depth, *float64) {
		m := r.Float64() * 2
		d := Depth{M: &m, Of: parts[[]int{0, 0, 0, 1, 1, 1, 2, 3}[r.IntN(8)]], Basis: []string{"reading", "record", "between readings"}[r.IntN(3)]}
		if r.IntN(10) > 0 {
			doubt := r.Float64() * 0.3
			d.DoubtM = &doubt
		}
		if r.IntN(10) == 0 {
			return d, nil
		}
		half := r.Float64() / 4
		return d, &half
	}
	// At the ends of the doubts or anywhere between. What is not stated may be any.
	placed := func(d Depth, half *float64) (top, bottom float64) {
		h, m, of := r.Float64()*float64(r.IntN(2)), *d.M, d.Of
		if half != nil {
			h = *half
		}
		if d.DoubtM != nil {
			m += []float64{-1, 1, 2*r.Float64() - 1}[r.IntN(3)] * *d.DoubtM
		}
		if of == "" {
			of = parts[r.IntN(3)]
		}
		top = m - map[string]float64{Top: 0, Center: h, Bottom: 2 * h}[of]
		return top, top + 2*h
	}
	counts := map[string]int{}
	for range 20_000 {
		var depths [2]Depth
		var halves [2]*float64
		depths[0], halves[0] = one()
		depths[1], halves[1] = one()
		asked := 0.01 + r.Float64()/2
		j := clearHeight(depths, halves).judge(0, MinClearance{asked, ""}, "", "us")
		counts[j.Verdict]++
		least, most := math.Inf(1), math.Inf(-1)
		for range 40 {
			topA, bottomA := placed(depths[0], halves[0])
			topB, bottomB := placed(depths[1], halves[1])
			left := max(topB-bottomA, topA-bottomB)
			least, most = min(least, left), max(most, left)
			if j.Verdict == Met && left < asked-2*sameLength || j.Verdict == NotMet && left >= asked {
				t.Fatalf("%+v %+v: %v is clear, asked is %v: %+v", depths, halves, left, asked, j)
			}
			if j.LeastM != nil && left < *j.LeastM-1e-9 || j.MostM != nil && left > *j.MostM+1e-9 {
				t.Fatalf("%v is clear, told is %+v", left, j)
			}
		}
		for i, d := range depths {
			if j.Verdict == Met && (d.DoubtM == nil || d.Of == "" || d.Of == Bottom || d.Basis == "between readings" || halves[i] == nil) {
				t.Fatalf("kept without %+v", d)
			}
		}
	}
	if counts[Met] < 200 || counts[NotMet] < 2000 || counts[NotKnown] < 2000 {
		t.Errorf("%v", counts)
	}
}

// TestVerdictsAlongside does the same with lines beside one another.
func TestVerdictsAlongside(t *testing.T) {
	r := rand.New(rand.NewPCG(37, 2026))
	counts := map[string]int{}
	for range 2000 {
		apart, asked := r.Float64()*1.5, 0.02+r.Float64()*0.6
		lines := append(linesOf(recordOf(t, "g", "gas", lineOf(nil, at(0, 0), at(30, 0)))), linesOf(recordOf(t, "e", "electric", lineOf(nil, at(0, apart), at(30, apart))))...)
		stated := true
		for i := range lines {
			if r.IntN(5) > 0 {
				off := r.Float64() * 0.2
				lines[i].AccuracyM = &off
			}
			if r.IntN(5) > 0 {
				half := r.Float64() * 0.1
				lines[i].HalfWidthM = &half
			}
			stated = stated && lines[i].AccuracyM != nil && lines[i].HalfWidthM != nil
		}
		found := newEdgeIndex(lines).parallelRuns(make([]Zone, 2), Options{Rules: []Rule{{Between: [2]string{"electric", "gas"}, Horizontal: &MinClearance{asked, ""}}}})
		off := func(l Line, of *float64) float64 {
			if of == nil {
				return 0
			}
			return *of
		}
		total, width := 0.0, 0.0
		for _, l := range lines {
			total, width = total+off(l, l.AccuracyM), width+off(l, l.HalfWidthM)
		}
		if len(found) == 0 { // then no placement within what is stated breaks the rule
			if apart-total-width < asked-1e-3 {
				t.Fatalf("%v m apart, asked %v: not found", apart, asked)
			}
			continue
		}
		j := found[0].Rules[0]
		counts[j.Verdict]++
		for range 20 {
			left := math.Abs(found[0].LeastM+(2*r.Float64()-1)*total) - width
			if j.Verdict == Met && (left < asked-2*sameLength || !stated) || j.Verdict == NotMet && left >= asked {
				t.Fatalf("%v is clear, asked is %v: %+v", left, asked, j)
			}
		}
	}
	if counts[Met] < 50 || counts[NotMet] < 200 || counts[NotKnown] < 200 {
		t.Errorf("%v", counts)
	}
}

// A line that runs beside another, and between comes nearer across: no rule is
// kept by what is left where they run beside one another.
func TestNotKeptByWhatComesAcross(t *testing.T) {
	p := map[string]any{"size": "2 in", "accuracy": "1 in"}
	straight := recordOf(t, "g", "gas", lineOf(p, at(0, 0), at(40, 0)))
	for name, c := range map[string]struct {
		dip  float64
		want string
	}{"straight on": {0.9, Met}, "a dip": {0.2, NotKnown}} {
		other := recordOf(t, "e", "electric", lineOf(p, at(0, 0.9), at(19.5, 0.9), at(20, c.dip), at(20.5, 0.9), at(40, 0.9)))
		k := From([]record.Overlay{straight, other}, nil, Options{Rules: []Rule{{Between: [2]string{"gas", Any}, Horizontal: inches(24), By: "sheet 4"}}})
		if len(k.ParallelRuns) != 1 || k.ParallelRuns[0].Rules[0].Verdict != c.want {
			t.Errorf("%s: %+v", name, k.ParallelRuns)
		}
	}
}

// By hand: 2 m apart with 30 cm of doubt and 5 cm of half a width each, 1.3 to
// 2.5 m may be clear. A rule widens what counts as beside; without one the pair is not.
func TestRulesAlongside(t *testing.T) {
	p := map[string]any{"size": "10 cm", "accuracy": "30 cm"}
	both := []record.Overlay{recordOf(t, "g", "gas", lineOf(p, at(0, 0), at(40, 0))), recordOf(t, "e", "electric", lineOf(p, at(0, 2), at(40, 2)))}
	for _, c := range []struct {
		asked   float64
		verdict string // "" = not found
	}{{0, ""}, {1.2, ""}, {1.4, NotKnown}, {2.4, NotKnown}, {2.6, NotMet}} {
		o := Options{Rules: []Rule{{Between: [2]string{"gas", "electric"}, Horizontal: &MinClearance{c.asked, ""}}}}
		if c.asked == 0 {
			o.Rules = nil
		}
		k := From(both, nil, o)
		if (len(k.ParallelRuns) == 1) != (c.verdict != "") {
			t.Fatalf("asked %v: %+v", c.asked, k.ParallelRuns)
		}
		if c.verdict == "" {
			continue
		}
		j := k.ParallelRuns[0].Rules[0]
		near(t, "least", *j.LeastM, 1.3, 1e-3)
		near(t, "most", *j.MostM, 2.5, 1e-3)
		if j.Verdict != c.verdict {
			t.Errorf("asked %v: %+v", c.asked, j)
		}
	}
}

// Where two readings at one place differ no rule is said to be kept, or not.
func TestTwoReadingsTellNothingOfARule(t *testing.T) {
	m, also, doubt, half := 0.5, 0.9, 0.01, 0.05
	a := Depth{M: &m, AlsoM: &also, Of: Top, DoubtM: &doubt, Basis: "reading"}
	for _, deep := range []float64{0.55, 3} {
		j := clearHeight([2]Depth{a, {M: &deep, Of: Top, DoubtM: &doubt, Basis: "record"}}, [2]*float64{&half, &half}).judge(0, MinClearance{0.3, ""}, "", "us")
		if j.Verdict != NotKnown || j.LeastM != nil || j.MostM != nil || !strings.Contains(j.Why, "two readings") {
			t.Errorf("%+v", j)
		}
	}
}

// TestALineAndItsOwnReadings: readings of a utility that name no recorded line may
// be of the recorded one; a rule then says nothing of the two.
func TestALineAndItsOwnReadings(t *testing.T) {
	line := recordOf(t, "w", "water", lineOf(exact("36in", "top", "6 in", "1 in"), at(-20, 0), at(20, 0)))
	read := recordOf(t, "r", "water", reading("R", at(-15, 0.1), map[string]any{"depth": "36in"}), reading("R", at(15, -0.1), map[string]any{"depth": "36in"}))
	rules := []Rule{{Between: [2]string{"water", "any"}, Vertical: inches(12), Horizontal: inches(60), By: "sheet 4"}}
	k := From([]record.Overlay{line, read}, square(50), Options{Rules: rules})
	var all []Judgment
	for _, x := range k.Crossings {
		all = append(all, x.Rules...)
	}
	for _, b := range k.ParallelRuns {
		all = append(all, b.Rules...)
	}
	if len(all) != 2 {
		t.Fatalf("%d verdicts", len(all))
	}
	for _, j := range all {
		if j.Verdict != NotKnown || !strings.Contains(j.Why, "whether the line and the readings are one line") {
			t.Errorf("%+v", j)
		}
	}
}
