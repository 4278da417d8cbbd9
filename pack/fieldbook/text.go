package fieldbook

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"regexp"
	"time"

	"groundsheet/tiles/geojson"
)

// Action is what an entry does to its mark.
type Action string

// The actions.
const (
	Write   Action = "write"   // the mark as it is from now on
	Strike  Action = "strike"  // the mark counts no more; its text stays
	Restore Action = "restore" // a struck mark counts again
)

// layout is of the texts of entries.
const layout = 1

// Text is the text of an entry as it was understood. Everything in it was stated by the
// phone.
type Text struct {
	ID      string
	Mark    string   // ID of the first entry of the mark
	After   []string // entries of the mark that the writer saw as newest
	Action  Action
	Why     string // of a strike or a restoring
	Who     string
	Phone   string
	Clock   time.Time        // of the phone
	Ahead   *time.Duration   // of that clock to the laptop's, as the phone found it; nil = not known
	Feature *geojson.Feature // of a write
}

// Written is when the entry was written, by the phone's clock less what that was known to be
// ahead, in whole milliseconds.
func (t Text) Written() time.Time {
	if t.Ahead == nil {
		return t.Clock
	}
	return t.Clock.Add(-*t.Ahead)
}

var clockForm = regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,9})?Z$`)

// mostAfter is how many entries one entry may follow: as many as phones edit one mark at once.
const mostAfter = 64

// mostAhead is the most that two clocks may differ by, so that times stay times.
const mostAhead = 100 * 365 * 24 * time.Hour

var hexID, hexHash = regexp.MustCompile(`^[0-9a-f]{32}$`), regexp.MustCompile(`^[0-9a-f]{64}$`)

// Parse reads the text of an entry by the rules of its layout; the error says which one it
// breaks, in words for the person who made the mark. Members that are not known here are
// passed over and stay in the text.
func Parse(text []byte) (t Text, err error) {
	if err := checkJSON(text); err != nil {
		return t, err
	}
	o := object{}
	if err := json.Unmarshal(text, &o); err != nil {
		return t, fmt.Errorf("the entry is not JSON: %w", err)
	}
	if v, err := o.number("layout"); err != nil || v == nil || *v != layout {
		return t, fmt.Errorf("the entry is not of layout %d: load the page again from this laptop", layout)
	}
	if err := t.readNames(o); err != nil {
		return t, err
	}
	if err := t.readTexts(o); err != nil {
		return t, err
	}
	if err := t.readClock(o); err != nil {
		return t, err
	}
	return t, t.readFeature(o["feature"])
}

// readNames reads what tells entries, marks and phones apart.
func (t *Text) readNames(o object) (err error) {
	for name, to := range map[string]*string{"id": &t.ID, "mark": &t.Mark, "phone": &t.Phone} {
		if *to, err = o.text(name, 32); err != nil || !hexID.MatchString(*to) {
			return fmt.Errorf("%q is not 32 lower-case hex digits", name)
		}
	}
	if raw, ok := o["after"]; ok {
		if json.Unmarshal(raw, &t.After) != nil || len(t.After) > mostAfter {
			return fmt.Errorf(`"after" is not a list of at most %d IDs`, mostAfter)
		}
	}
	for _, id := range t.After {
		if !hexID.MatchString(id) || id == t.ID {
			return errors.New(`"after" names something that is no other entry`)
		}
	}
	return nil
}

func (t *Text) readTexts(o object) (err error) {
	action, err := o.text("action", 20)
	if err != nil {
		return err
	}
	t.Action = Action(action)
	if t.Why, err = o.text("why", 2000); err != nil {
		return err
	}
	if t.Who, err = o.text("who", 200); err != nil {
		return err
	}
	first := t.ID == t.Mark
	switch {
	case t.Action != Write && t.Action != Strike && t.Action != Restore:
		return errors.New(`"action" is not write, strike or restore`)
	case first && (t.Action != Write || len(t.After) > 0):
		return errors.New("the first entry of a mark writes it and follows no other")
	case !first && len(t.After) == 0:
		return errors.New(`a later entry of a mark names in "after" what it follows`)
	case t.Action == Strike && t.Why == "":
		return errors.New("a strike says why")
	}
	return nil
}

func (t *Text) readClock(o object) error {
	clock, err := o.text("clock", 40)
	if err != nil {
		return err
	}
	if t.Clock, err = time.Parse(time.RFC3339Nano, clock); err != nil || !clockForm.MatchString(clock) || t.Clock.Year() < 1970 || t.Clock.Year() > 9000 {
		return errors.New(`"clock" is no time such as 2026-11-29T22:10:05.123Z`)
	}
	t.Clock = t.Clock.Truncate(time.Millisecond)
	seconds, err := o.number("clock_ahead_s")
	if err != nil || seconds == nil {
		return err
	}
	if math.Abs(*seconds) > mostAhead.Seconds() {
		return errors.New(`"clock_ahead_s" is more than a hundred years`)
	}
	ahead := time.Duration(math.Floor(*seconds*1000+0.5)) * time.Millisecond // as browsers round
	t.Ahead = &ahead
	return nil
}

func (t *Text) readFeature(raw json.RawMessage) error {
	none := len(raw) == 0 || string(raw) == "null"
	switch {
	case t.Action != Write && !none:
		return fmt.Errorf("to %s a mark brings no feature", t.Action)
	case t.Action != Write:
		return nil
	case none:
		return errors.New("the entry writes nothing: it has no feature")
	}
	all, err := geojson.Read(raw)
	if err != nil {
		return err
	}
	if len(all) != 1 || all[0].Place != "feature" {
		return errors.New("what the entry writes is not one Feature")
	}
	t.Feature = &all[0]
	return checkFeature(all[0])
}
