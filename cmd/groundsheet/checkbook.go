package main

import (
	"context"

	"groundsheet/pack/fieldbook"
)

// bookReport is what check says of a field book.
type bookReport struct {
	File    string   `json:"file"`
	Verdict string   `json:"verdict"` // "whole" or "broken"
	Job     string   `json:"job"`
	Made    string   `json:"made"`
	Entries int      `json:"entries"`
	Marks   int      `json:"marks"`
	Struck  int      `json:"struck"`
	Photos  int      `json:"photos"`
	Pending int      `json:"photos_pending"` // of which not all has come
	Missing int      `json:"photos_missing"` // named by a mark, and not here
	Last    string   `json:"last_hash"`
	Faults  []string `json:"faults"`
	Notes   []string `json:"notes"`
}

// checkBook proves a field book and says what it holds; whole is false for a broken one.
func (a *app) checkBook(ctx context.Context, path string, asJSON, alone bool) (whole bool, err error) {
	b, err := fieldbook.Read(path)
	if err != nil {
		return false, err
	}
	defer closeInto(b.Close, &err)
	v, err := b.Verify(ctx)
	if err != nil {
		return false, err
	}
	about := b.About()
	r := bookReport{path, "whole", about.Name, about.Made.Format("2006-01-02 15:04 MST"), v.Entries, v.Marks, v.Struck, v.Photos, v.Pending, v.Missing,
		v.Last, append([]string{}, v.Faults...), append([]string{}, v.Notes...)}
	if !v.Whole() {
		r.Verdict = "broken"
	}
	if asJSON {
		return v.Whole(), a.json(r, alone)
	}
	for _, text := range r.Faults {
		a.say("FAULT   %s", text)
	}
	for _, text := range r.Notes {
		a.say("note    %s", text)
	}
	a.say("%s: %s — %s, %d struck, %s; entries: %d; photos not all here: %d, missing: %d", path, r.Verdict,
		count(v.Marks, "mark"), v.Struck, count(v.Photos, "photo"), v.Entries, v.Pending, v.Missing)
	a.say("of %s, made %s; hash of the last entry: %s", about.Name, r.Made, v.Last)
	return v.Whole(), nil
}
