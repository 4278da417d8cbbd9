package derive

import (
	"fmt"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/words"
)

// Statistics is what is recorded of one utility. nil and "" mean that no
// record states it.
type Statistics struct {
	Utility        string         `json:"utility"`
	Overlays       int            `json:"overlays"`
	Lines          int            `json:"lines"`
	LengthM        float64        `json:"length_m"`
	Readings       int            `json:"readings"`
	WithDepth      int            `json:"with_depth"` // readings that have one
	TestHoles      int            `json:"test_holes"` // not among the readings
	Proposed       int            `json:"proposed"`   // of the lines
	ShallowestM    *float64       `json:"shallowest_m"`
	DeepestM       *float64       `json:"deepest_m"`
	Oldest         string         `json:"oldest"`  // YYYY-MM-DD, YYYY-MM or YYYY
	Undated        int            `json:"undated"` // overlays
	WorstAccuracyM *float64       `json:"worst_accuracy_m"`
	NoAccuracy     int            `json:"no_accuracy"` // features that state none, nor does their record
	Levels         map[string]int `json:"levels"`      // features of each quality level; "" = none stated
}

// statistics counts by utility, in the order of the APWA code.
func statistics(overlays []record.Overlay, lines []Line) []Statistics {
	all := []Statistics{}
	for _, u := range record.Utilities() {
		s := Statistics{Utility: u.Code, Levels: map[string]int{}}
		for _, o := range overlays {
			if o.Kind.Code == u.Code {
				s.add(o)
			}
		}
		for _, l := range lines {
			if l.Utility == u.Code {
				s.Lines++
				s.LengthM += l.LengthM
				if l.State == record.Proposed {
					s.Proposed++
				}
			}
		}
		if s.Overlays > 0 {
			all = append(all, s)
		}
	}
	return all
}

func (s *Statistics) add(o record.Overlay) {
	s.Overlays++
	s.Readings += o.Readings()
	s.TestHoles += o.TestHoles()
	if o.Recorded == "" && (o.NoDate() > 0 || len(o.Features) == 0) {
		s.Undated++
	} else if o.Recorded != "" && (s.Oldest == "" || o.Recorded < s.Oldest) {
		s.Oldest = o.Recorded
	}
	for _, f := range o.Features {
		s.Levels[o.LevelOf(f.Properties)]++
		accuracy := o.AccuracyOf(f.Properties)
		if accuracy == nil {
			s.NoAccuracy++
		}
		s.WorstAccuracyM = larger(s.WorstAccuracyM, accuracy)
		// A date of its own counts too, where it begins like one.
		if own := record.Text(f.Properties, "date"); len(own) >= 10 && record.IsDate(own[:10]) &&
			(s.Oldest == "" || own[:10] < s.Oldest) {
			s.Oldest = own[:10]
		}
		depth := record.Number(f.Properties, "depth_m")
		if depth == nil {
			continue
		}
		if _, point := f.Geometry.(orb.Point); point && !o.IsTestHole(f) {
			s.WithDepth++
		}
		s.ShallowestM, s.DeepestM = smaller(s.ShallowestM, depth), larger(s.DeepestM, depth)
	}
}

// StatesText counts the lines by their states in one sentence; "" where each is
// in service or states nothing.
func StatesText(lines []Line) string {
	counts := map[record.State]int{}
	for _, l := range lines {
		counts[l.State]++
	}
	var parts []string
	for _, s := range []record.State{record.Abandoned, record.OutOfService, record.Proposed, record.InService, ""} {
		if n := counts[s]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, countedAs(s)))
		}
		delete(counts, s)
	}
	unread := 0
	for _, n := range counts { // a pack may be anybody's
		unread += n
	}
	if unread > 0 {
		parts = append(parts, words.Say("state.counted_unread", "n", unread))
	}
	if !slices.ContainsFunc(lines, func(l Line) bool { return l.StateText() != "" }) {
		return ""
	}
	return words.Say("state.counted", "all", len(lines), "parts", words.List(parts))
}

func countedAs(s record.State) string {
	if s == "" {
		return words.Say("state.counted_not_stated")
	}
	return string(s)
}
