package main

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"groundsheet/pack/record/intake"
	"groundsheet/tiles/vector"
)

// interview asks the questions of a proposal on a terminal.
type interview struct {
	*app
	in      *bufio.Scanner
	answers intake.Answers
	asked   []string // keys
	silent  bool     // asks nothing
}

func newLines(r io.Reader) *bufio.Scanner {
	s := bufio.NewScanner(r)
	s.Buffer(nil, 1<<20)
	return s
}

// mostTries is how often one question is asked.
const mostTries = 5

// hold asks until nothing is open any more, and proposes anew after each answer.
func (q *interview) hold(f vector.File, site intake.Site, p intake.Proposal) (intake.Proposal, error) {
	if q.silent {
		return p, q.refuse(p)
	}
	shown := false
	for tries := 0; ; {
		i, open := q.next(p)
		if !open || p.Format == "" {
			return p, nil
		}
		if i.Key == "unread" && !shown {
			shown = true
			q.showUnread(p)
		}
		if slices.Contains(q.asked, i.Key) {
			if tries++; tries == mostTries {
				return p, wrongUse(i.Name+" was not answered", "nothing was written")
			}
		} else {
			tries = 0
		}
		answer, err := q.ask(i)
		if err != nil {
			return p, err
		}
		q.asked, q.answers[i.Key] = append(q.asked, i.Key), answer
		p = intake.Propose(f, site, q.answers)
	}
}

// next is the next item to ask: each once, and again what must be answered and is not.
func (q *interview) next(p intake.Proposal) (intake.Item, bool) {
	for _, i := range p.Items {
		_, answered := q.answers[i.Key]
		open := i.Sure == intake.Fits || i.Sure == intake.Unknown
		if !i.Fixed && open && (!answered || i.Must) {
			return i, true
		}
	}
	return intake.Item{}, false
}

// ask asks one question. An empty line takes what is proposed; nothing is proposed
// that is not known.
func (q *interview) ask(i intake.Item) (string, error) {
	q.say("")
	q.say("%s: %s", i.Name, i.Why)
	for n, c := range i.Choices {
		q.say("  %d  %s", n+1, c.Text)
	}
	switch {
	case i.Sure == intake.Fits:
		q.say("? (Enter: %s)", textOf(i))
	case i.Must:
		q.say("?")
	default:
		q.say("? (Enter: not stated)")
	}
	if !q.in.Scan() {
		return "", wrongUse(i.Name+" was not answered", "nothing was written")
	}
	answer := strings.TrimSpace(q.in.Text())
	if n, err := strconv.Atoi(answer); err == nil && n >= 1 && n <= len(i.Choices) {
		return i.Choices[n-1].Value, nil
	}
	if answer == "" && i.Sure == intake.Fits {
		return i.Value, nil
	}
	return answer, nil
}

// textOf is the proposed answer as its choice has it.
func textOf(i intake.Item) string {
	for _, c := range i.Choices {
		if c.Value == i.Value {
			return c.Text
		}
	}
	return i.Value
}

// refuse says what must be answered where nothing is to be asked.
func (q *interview) refuse(p intake.Proposal) error {
	var open []string
	for _, i := range append(p.Open(), p.Guessed()...) {
		text := fmt.Sprintf("%s (%s)", i.Key, i.Why)
		if i.Sure == intake.Fits && i.Value != "" {
			text = fmt.Sprintf("%s, perhaps %q (%s)", i.Key, i.Value, i.Why)
		}
		if i.Value != "" || i.Sure == intake.Unknown {
			open = append(open, text)
		}
	}
	if len(open) == 0 {
		return nil
	}
	return wrongUse("the file does not state: "+strings.Join(open, "; "),
		`answer each with --answer "KEY=VALUE", or run this without --yes; nothing was written`)
}

// confirm asks whether to write.
func (q *interview) confirm(dir string) error {
	if q.silent {
		return nil
	}
	q.say("")
	q.say("Add it to %s? y/n", dir)
	if q.in.Scan() && slices.Contains([]string{"y", "yes"}, strings.ToLower(strings.TrimSpace(q.in.Text()))) {
		return nil
	}
	return wrongUse("not added", "nothing was written")
}
