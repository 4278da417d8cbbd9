package brief

import (
	"fmt"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// stripPlan is how courses come on paper.
type stripPlan struct {
	scale  float64
	margin float64 // metres round the corridor that each strip surely shows
	rows   int     // strips on a page
	strips []strip
}

func (p stripPlan) pages() int { return (len(p.strips) + p.rows - 1) / p.rows }

// Layout of pages of strips, in millimetres, and how much of a strip's height is
// kept for bends. The project's own choice.
const (
	mostStacked = 3
	band        = 10.0 // above a strip: what it is
	rowGap      = 2.0
	forBends    = 0.1
)

// usefulScales are the largest and the smallest scale that a crew can place a
// reading by on a strip: 1 in = 40 ft to 100 ft, or 1:500 to 1:1000. The
// project's own choice, no source.
func usefulScales(units string) (first, last float64) {
	if units == "us" {
		return 480, 1200
	}
	return 500, 1000
}

// rowBox is where a strip stands on a page, below its band.
func rowBox(on box, row, rows int) box {
	high := (on.H - rowGap*float64(rows-1)) / float64(rows)
	return box{on.X, on.Y + float64(row)*(high+rowGap) + band, on.W, high - band}
}

// planStrips cuts the courses at a scale, with as many strips on a page as make
// the fewest pages. ok is false when the corridor does not fit. The margin gives
// way to it, where only one is on a page.
func (s site) planStrips(scale float64, on box) (best stripPlan, ok bool) {
	widest := 0.0
	for _, c := range s.courses {
		widest = max(widest, c.half)
	}
	for rows := 1; rows <= mostStacked; rows++ {
		b := rowBox(on, 0, rows)
		shown := min(s.about.MarginM, b.H*scale/1000*(1-forBends)/2-widest)
		if shown < 0 || rows > 1 && shown < best.margin {
			break
		}
		all, cut := knife{scale, b, shown, evenStations(s.about.Units), mostSheets}.cut(s.courses)
		p := stripPlan{scale, shown, rows, all}
		if !cut || ok && p.pages() >= best.pages() {
			continue
		}
		for i := range p.strips {
			p.strips[i].on = rowBox(on, i%rows, rows)
		}
		best, ok = p, true
	}
	return best, ok
}

// chooseStrips takes the largest useful scale at which corridor and margin fit and
// the strips are not too many. Where there is none the margin gives way first,
// then the scale.
func (s site) chooseStrips(on box) (stripPlan, bool) {
	if len(s.courses) == 0 {
		return stripPlan{}, false
	}
	first, last := usefulScales(s.about.Units)
	for _, n := range scales(s.about.Units) {
		if n < first || n > last {
			continue
		}
		if p, ok := s.planStrips(n, on); ok && p.margin == s.about.MarginM {
			return p, true
		}
	}
	for _, n := range scales(s.about.Units) {
		if n < last {
			continue
		}
		if p, ok := s.planStrips(n, on); ok {
			return p, true
		}
	}
	return stripPlan{}, false
}

// strips are those of the scale that is asked for, else of one that is chosen.
// There are none where the pack names no route, or one that no scale takes.
func (s site) strips(scale float64, on box) (stripPlan, error) {
	chosen, any := s.chooseStrips(on)
	if !any || scale == 0 {
		return chosen, nil
	}
	if p, ok := s.planStrips(scale, on); ok {
		return p, nil
	}
	return stripPlan{}, &fault.Fault{
		Kind: Misuse,
		Detail: fmt.Sprintf("at scale %s a strip of paper cannot hold the corridor, or it takes more than %d strips",
			scaleWords(scale, s.about.Units), mostSheets),
		Remedy: fmt.Sprintf("leave the scale out, or use 1:%.0f", chosen.scale),
	}
}

// stripSection says how the corridor was cut.
func (s site) stripSection(l layout) []section {
	p := l.plan
	if len(p.strips) == 0 {
		return nil
	}
	long := 0.0
	for _, c := range s.courses {
		long += c.length()
	}
	notes := []string{words.Say("brief.strips", "n", len(p.strips), "routes", len(s.courses), "long", s.in(long), "scale", scaleWords(p.scale, s.about.Units))}
	switch shown, all := s.in(p.margin), s.in(s.about.MarginM); {
	case p.margin < s.about.MarginM:
		notes = append(notes, words.Say("brief.strips_cut", "margin", all, "shown", shown))
	case s.about.MarginM > 0:
		notes = append(notes, words.Say("brief.strips_margin", "margin", all))
	}
	if !l.asked {
		notes = append(notes, words.Say("brief.strips_chosen", "most", mostSheets))
	}
	if len(l.plain) > 0 {
		notes = append(notes, words.Say("brief.strips_apart", "n", len(l.plain), "scale", scaleWords(l.plain[0].scale, s.about.Units)))
	}
	notes = append(notes, words.Say("brief.stations", "zero", stationText(0, s.about.Units), "step", s.stationStep()))
	return []section{{Title: words.Say("brief.strips_title"), Notes: notes}}
}

// stationStep explains how stations are written.
func (s site) stationStep() string {
	d := 100.0
	if s.about.Units == "us" {
		d *= measure.Foot
	}
	return words.Say("brief.station_step", "station", stationText(d, s.about.Units), "long", s.in(d))
}
