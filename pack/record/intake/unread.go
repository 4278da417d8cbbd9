package intake

import (
	"strings"

	"groundsheet/pack/record"
	"groundsheet/tiles/vector"
	"groundsheet/tiles/words"
)

// bareReason is the reason of a row without what is done about it.
func bareReason(detail string) string {
	return strings.TrimSuffix(detail, words.Say("finding.row", "why", ""))
}

// unreadItem asks what is to become of the rows that cannot be read.
func (p *proposer) unreadItem() {
	n := len(p.out.Unread)
	if n == 0 {
		p.out.Unread = []record.Finding{}
		return
	}
	i := p.add(Item{Key: "unread", Name: words.Say("intake.unread"), Sure: Unknown, Must: true, Why: words.Say("intake.unread_why", "n", n),
		Choices: []Choice{{"leave out", words.Say("intake.unread_leave")}, {"keep", words.Say("intake.unread_keep")}}})
	if i.Value != "leave out" {
		return
	}
	for _, f := range p.out.Unread {
		p.out.meta.LeaveOut = append(p.out.meta.LeaveOut, record.LeftOut{Line: f.Line, Why: shortened(words.Say("intake.left_out", "why", f.Detail))})
	}
}

// shortened keeps a reason to what a job takes.
func shortened(why string) string {
	why = strings.Join(strings.Fields(why), " ")
	if r := []rune(why); len(r) > 190 {
		return string(r[:190]) + "…"
	}
	return why
}

// points keeps the places of a table as what can be drawn, and the rows without one.
func (p *proposer) points(s vector.Sheet) {
	for _, row := range s.Rows {
		if row.Fault != "" {
			p.out.Unread = append(p.out.Unread, record.NewFinding("row", record.Fault, p.out.File, row.Line, row.Fault))
			continue
		}
		p.out.Shapes = append(p.out.Shapes, pointOf(row))
	}
	p.measure()
}
