package intake

import (
	"slices"
	"strings"

	"groundsheet/pack/record"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/vector"
	"groundsheet/tiles/words"
)

// unitInName is the unit that names of eastings and northings state: "m", "ft" where
// it is not said which foot, "us survey ft"; "" where they state none.
func unitInName(names string) string {
	words := record.Tokens(names)
	has := func(any ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return slices.Contains(any, w) })
	}
	switch {
	case has("ussft", "usft", "ftu") || has("survey") && has("ft", "feet", "foot"):
		return "us survey ft"
	case has("ft", "feet", "foot", "ift"):
		return "ft"
	case has("m", "meter", "metre"):
		return "m"
	}
	return ""
}

// system proposes the UTM zone and the unit of eastings and northings: as stated,
// else those that put the rows at the job. It is false while they must be answered.
func (p *proposer) system(s vector.Sheet, l located) bool {
	if l.degrees() {
		p.told("system", words.Say("intake.system"), words.Say("intake.degrees"), l.sure, l.why)
		return true
	}
	names := s.Header[l.columns["easting"]] + " " + s.Header[l.columns["northing"]]
	stated, zone := unitInName(names), p.statedZone(names)
	if p.out.meta.EPSG != 0 {
		p.systemItem(p.gridSystems(s, l.columns, stated), noSystem(s, l))
		return true
	}
	fits := p.gridFits(s, l.columns, zone, 0)
	if stated == "ft" {
		fits = slices.DeleteFunc(fits, func(f fit) bool { return f.unit == "m" })
	} else if stated != "" {
		fits = slices.DeleteFunc(fits, func(f fit) bool { return f.unit != stated })
	}
	_, inTable := l.columns["zone"]
	if len(fits) == 0 && zone == "" && !inTable && p.answers["utm_zone"] == "" {
		p.systemItem(p.gridSystems(s, l.columns, stated), noSystem(s, l))
		return p.out.meta.EPSG != 0
	}
	known := p.zone(l, zone, names, fits)
	return p.unit(s, l, stated, fits) && known
}

// noSystem says why a system must be stated where none fits.
func noSystem(s vector.Sheet, l located) string {
	if inDegreeRange(s, l) {
		return words.Say("intake.epsg_degrees")
	}
	return words.Say("intake.epsg_none")
}

// statedZone is the zone that the names of the columns state; "" where they do not.
func (p *proposer) statedZone(names string) string {
	if m := zoneInName.FindStringSubmatch(names); m != nil && strings.Contains(strings.ToLower(names), "utm") {
		return m[1] + strings.ToUpper(m[2])
	}
	return ""
}

// zone proposes the UTM zone.
func (p *proposer) zone(l located, stated, names string, fits []fit) bool {
	name := words.Say("intake.zone")
	if i, inTable := l.columns["zone"]; inTable {
		p.told("utm_zone", name, words.Say("intake.zone_in_rows"), Stated, words.Say("intake.zone_column", "name", record.Quote(p.out.Columns[i].Name)))
		return true
	}
	i := Item{Key: "utm_zone", Name: name, Sure: Unknown, Must: true, Why: words.Say("intake.zone_none")}
	zones := p.site.zones()
	switch {
	case stated != "":
		i.Value, i.Sure, i.Why = stated, Stated, words.Say("intake.zone_header", "names", record.Quote(names))
		if !slices.Contains(zones, stated) {
			zones = append(zones, stated)
		}
	case len(fits) > 0 && !slices.ContainsFunc(fits, func(f fit) bool { return f.zone != fits[0].zone }):
		i.Value, i.Sure, i.Why = fits[0].zone, Fits, words.Say("intake.zone_fits", "zone", fits[0].zone, "n", fits[0].near, "of", fits[0].of)
	}
	for _, z := range zones {
		i.Choices = append(i.Choices, Choice{z, z})
	}
	i = p.add(i)
	p.out.meta.UTMZone = i.Value
	return i.Value != ""
}

// unit proposes the unit of eastings and northings. Which foot is meant is never
// guessed.
func (p *proposer) unit(s vector.Sheet, l located, stated string, fits []fit) bool {
	i := Item{Key: "coordinates_in", Name: words.Say("intake.coordinates_in"), Sure: Unknown, Must: true, Why: words.Say("intake.coordinates_none")}
	meters := slices.ContainsFunc(fits, func(f fit) bool { return f.unit == "m" })
	feet := slices.ContainsFunc(fits, func(f fit) bool { return f.unit == "ft" })
	apart := typical(s, l.columns["northing"]) * (measure.SurveyFoot - measure.Foot)
	in := record.LengthsIn(p.site.Units)
	switch {
	case stated == "m" || stated == "us survey ft":
		i.Value, i.Sure, i.Why = stated, Stated, words.Say("intake.coordinates_header")
	case stated == "ft":
		i.Why = words.Say("intake.coordinates_feet", "apart", in(apart))
	case meters && !feet:
		i.Value, i.Sure, i.Why = "m", Fits, words.Say("intake.coordinates_meters", "n", fits[0].near, "of", fits[0].of)
	case feet && !meters:
		i.Why = words.Say("intake.coordinates_as_feet", "apart", in(apart))
	}
	for _, u := range []string{"us survey ft", "ft", "m"} {
		if (stated == "ft" || feet && !meters) && u == "m" {
			continue
		}
		i.Choices = append(i.Choices, Choice{u, unitName(u)})
	}
	i = p.add(i)
	if i.Value != "m" || stated == "ft" {
		p.out.meta.CoordinatesIn = i.Value
	}
	return i.Value != ""
}
