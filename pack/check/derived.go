package check

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// derived adds what was derived from the records and concerns those who dig.
func (c *checker) derived(ctx context.Context) error {
	for _, s := range c.pack.Info.Overlays {
		c.record(s)
	}
	k, err := c.pack.Derived(ctx)
	if err != nil {
		return c.damaged(err)
	}
	at := newPlaces(k, c.pack.Info.Overlays)
	for _, f := range k.Findings {
		kind := f.Kind
		if kinds[kind] != ofRecord {
			kind = "record" // the file may be anybody's
		}
		c.addAt(kind, string(f.Severity), at.of(f.Where, f.Line), f.Text())
	}
	if counts := derive.StatesText(k.Lines); counts != "" {
		c.add("state", Note, nil, counts)
	}
	c.older(k)
	c.entries(k, at)
	c.crossings(k)
	c.besides(k)
	c.rules(k)
	c.sizes(k)
	return c.leaving(ctx, k)
}

// record adds what an overlay does not state, and its age.
func (c *checker) record(s pack.Summary) {
	if s.NoAccuracy > 0 {
		c.addAt("not stated", Warning, shown(s), words.Say("check.no_accuracy",
			"n", s.NoAccuracy, "all", s.Features, "overlay", quoted(s.Title)))
	}
	if limit := c.limit(); limit > 0 && c.tooOld(s.Recorded) {
		c.addAt("old record", Warning, shown(s), words.Say("check.old_overlay",
			"overlay", quoted(s.Title), "date", s.Recorded, "limit", limit))
	}
}

func (c *checker) limit() measure.Age {
	s := c.pack.Info.About.Records.OlderThanS
	if !(s > 0 && s < 9e9) {
		return 0
	}
	return measure.Age(s * float64(time.Second))
}

// tooOld counts a month or a year from its first day: the record may be that old.
func (c *checker) tooOld(recorded string) bool {
	for _, layout := range []string{time.DateOnly, "2006-01", "2006"} {
		if day, err := time.Parse(layout, recorded); err == nil {
			return c.opts.Now().Sub(day) > time.Duration(c.limit())
		}
	}
	return false
}

// older names utilities with single features older than the limit, whose
// overlays as a whole are not.
func (c *checker) older(k derive.Result) {
	if c.limit() == 0 {
		return
	}
	for _, s := range k.Statistics {
		named := slices.ContainsFunc(c.pack.Info.Overlays,
			func(o pack.Summary) bool { return o.Utility == s.Utility && c.tooOld(o.Recorded) })
		if !named && c.tooOld(s.Oldest) {
			c.add("old record", Warning, nil, words.Say("check.old_part", "utility", s.Utility, "date", s.Oldest,
				"limit", c.limit()))
		}
	}
}

func (c *checker) entries(k derive.Result, at places) {
	units := c.pack.Info.About.Units
	names := lineNames(k)
	for _, e := range k.Entries {
		say := words.Say("check.entry_near", "utility", e.Utility, "line", names[e.Line], "kind", e.Text(),
			"distance", measure.Distance(e.NearestM).In(units))
		if e.Kind == derive.Enters {
			say = words.Say("check.entry", "utility", e.Utility, "line", names[e.Line], "kind", e.Text(),
				"length", measure.Distance(e.LengthM).In(units))
		}
		c.addAt("entry", Note, at.line(e.Line), say)
	}
}

func (c *checker) crossings(k derive.Result) {
	counts, inside, at := map[string]int{}, map[string]int{}, map[string]orb.MultiPoint{}
	for _, x := range k.Crossings {
		counts[x.Kind]++
		if x.InArea {
			inside[x.Kind]++
		}
		at[x.Kind] = append(at[x.Kind], x.Place)
	}
	all := len(k.Crossings)
	if n := counts[derive.DepthUnknown]; n > 0 {
		c.addAt("crossing", Note, boundsOf(at[derive.DepthUnknown]), words.Say("crossing.count_unknown", "n", n,
			"all", all, "inside", inside[derive.DepthUnknown]))
	}
	if n := counts[derive.NotComparable]; n > 0 {
		c.addAt("crossing", Note, boundsOf(at[derive.NotComparable]), words.Say("crossing.count_not_comparable", "n", n,
			"all", all, "inside", inside[derive.NotComparable]))
	}
	if n := proposed(k.Crossings); n > 0 {
		c.add("crossing", Note, nil, words.Say("crossing.count_proposed", "n", n, "all", all))
	}
	if n := counts[derive.MayTouch]; n > 0 {
		c.addAt("crossing", Warning, boundsOf(at[derive.MayTouch]), words.Say("crossing.count_may_touch", "n", n, "all", all,
			"inside", inside[derive.MayTouch]))
	}
}

// proposed counts the crossings with a line that is not built as far as the
// record tells.
func proposed(all []derive.Crossing) (n int) {
	for _, x := range all {
		if slices.Contains(x.States[:], record.Proposed) {
			n++
		}
	}
	return n
}

// sizes counts zones that begin at the center of a line, and says why.
func (c *checker) sizes(k derive.Result) {
	sizes := map[string]string{}
	for _, l := range k.Lines {
		sizes[l.ID] = l.Size
	}
	none, unread := 0, []string(nil)
	for _, z := range k.Zones {
		switch size := sizes[z.Line]; {
		case z.SizeKnown:
		case size == "":
			none++
		default:
			unread = append(unread, fmt.Sprintf("%.40q", size))
		}
	}
	if none > 0 {
		c.add("no size", Note, nil, words.Say("size.none", "n", none, "all", len(k.Zones)))
	}
	if n := len(unread); n > 0 {
		slices.Sort(unread)
		unread = slices.Compact(unread)
		c.add("size not understood", Warning, nil, words.Say("size.unread", "n", n, "all", len(k.Zones),
			"sizes", strings.Join(unread[:min(len(unread), 5)], ", ")))
	}
}

// leaving counts the lines of each overlay that go on where the pack has no
// picture of its deepest zoom.
func (c *checker) leaving(ctx context.Context, k derive.Result) error {
	if len(c.covers) == 0 {
		return nil
	}
	deepest := c.covers[len(c.covers)-1]
	lines, out, gone := map[string]int{}, map[string]int{}, map[string]orb.MultiLineString{}
	for _, l := range k.Lines {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		lines[l.Overlay]++
		if leaves(l.Path, deepest) {
			out[l.Overlay]++
			gone[l.Overlay] = append(gone[l.Overlay], l.Path)
		}
	}
	for _, s := range c.pack.Info.Overlays {
		if n := out[s.ID]; n > 0 {
			c.addAt("leaves", Note, boundsOf(gone[s.ID]), words.Say("check.leaves", "n", n,
				"all", lines[s.ID], "overlay", quoted(s.Title), "zoom", deepest.Zoom()))
		}
	}
	return nil
}

// leaves looks at the positions of a line first, then along its edges at steps
// of half a tile.
func leaves(path orb.LineString, cover tiles.Cover) bool {
	outside := func(p orb.Point) bool { return !cover.Has(tiles.At(p[0], p[1], cover.Zoom())) }
	if slices.ContainsFunc(path, outside) {
		return true
	}
	for i := 1; i < len(path); i++ {
		a, b := path[i-1], path[i]
		x, y := tiles.Project(a[0], a[1])
		u, v := tiles.Project(b[0], b[1])
		steps := int(2*math.Ldexp(max(math.Abs(u-x), math.Abs(v-y)), cover.Zoom())) + 1
		for s := 1; s < steps; s++ {
			t := float64(s) / float64(steps)
			if outside(orb.Point{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])}) {
				return true
			}
		}
	}
	return false
}

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
		c.addAt("beside", Warning, boundsOf(b.Path), b.Text(name(0), name(1), c.pack.Info.About.Units))
	}
}

// rules tells where a rule of clearance is not kept by what is recorded, and
// counts where that is not known.
func (c *checker) rules(k derive.Result) {
	names := lineNames(k)
	all, open := 0, 0
	each := func(at orb.Geometry, utilities, lines [2]string, judged []derive.Judgment, where func(one, other string) string) {
		for _, j := range judged {
			all++
			switch j.Verdict {
			case derive.NotMet:
				one, other := utilities[0]+" line "+names[lines[0]], utilities[1]+" line "+names[lines[1]]
				c.addAt("rule", Warning, boundsOf(at), where(one, other)+": "+j.Text())
			case derive.NotKnown:
				open++
			}
		}
	}
	for _, x := range k.Crossings {
		each(x.Place, x.Utilities, x.Lines, x.Rules, func(one, other string) string {
			return words.Say("rule.at_crossing", "one", one, "other", other,
				"place", fmt.Sprintf("%.6f, %.6f", x.Place.Lat(), x.Place.Lon()))
		})
	}
	for _, b := range k.ParallelRuns {
		each(b.Path, b.Utilities, b.Lines, b.Rules, func(one, other string) string {
			return words.Say("rule.alongside", "one", one, "other", other)
		})
	}
	if open > 0 {
		c.add("rule", Note, nil, words.Say("rule.count_open", "n", open, "all", all))
	}
}
