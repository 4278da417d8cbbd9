package fieldbook

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"groundsheet/tiles/geojson"
)

// Version is one entry of a mark, with its text as it was understood.
type Version struct {
	Entry
	Text Text
}

// Mark is one thing that a crew added, as its entries leave it.
type Mark struct {
	ID      string
	Leading Version   // the newest: what counts
	Rivals  []Version // as new as the leading one, written without knowing of it; newest first
	Struck  bool      // by the leading entry, whose Why and Who say more
	Written Version   // the write that Feature is from; the leading one unless that strikes or restores
	Feature geojson.Feature
	All     []Version // every entry of the mark, oldest first
}

// Kind is the kind of the mark, see [Kinds]; "" where no write of it is known.
func (m Mark) Kind() string {
	kind, _ := m.Feature.Properties["kind"].(string)
	return kind
}

// First is when the mark was first written, by its writer's corrected clock.
func (m Mark) First() time.Time { return m.All[0].Text.Written() }

// Fold makes marks of entries, in the order in which they were first written. The order of
// the entries does not matter, nor does one that comes again. An entry whose text cannot be
// read is passed over: [Book.Verify] tells of it.
func Fold(entries []Entry) []Mark {
	read := make([]Version, 0, len(entries))
	for _, e := range entries {
		if text, err := Parse(e.Text); err == nil && text.ID == e.ID {
			read = append(read, Version{e, text})
		}
	}
	return marksOf(read)
}

// Merge folds the marks of several books together, as [Fold] does all their entries.
func Merge(books ...[]Mark) []Mark {
	var read []Version
	for _, m := range slices.Concat(books...) {
		read = append(read, m.All...)
	}
	return marksOf(read)
}

func marksOf(read []Version) []Mark {
	byMark, seen := map[string][]Version{}, map[string]bool{}
	for _, v := range read {
		if !seen[v.ID] {
			seen[v.ID] = true
			byMark[v.Text.Mark] = append(byMark[v.Text.Mark], v)
		}
	}
	marks := make([]Mark, 0, len(byMark))
	for id, all := range byMark {
		marks = append(marks, fold(id, all))
	}
	slices.SortFunc(marks, func(a, b Mark) int { return cmp.Or(a.First().Compare(b.First()), strings.Compare(a.ID, b.ID)) })
	return marks
}

// older orders versions by when they were written, by the corrected clocks.
func older(a, b Version) int {
	return cmp.Or(a.Text.Written().Compare(b.Text.Written()), strings.Compare(a.ID, b.ID))
}

func fold(id string, all []Version) Mark {
	slices.SortFunc(all, older)
	followed := map[string]bool{}
	for _, v := range all {
		for _, id := range v.Text.After {
			followed[id] = true
		}
	}
	var newest []Version
	for _, v := range all {
		if !followed[v.ID] {
			newest = append(newest, v)
		}
	}
	if len(newest) == 0 { // entries that follow one another in a ring: nobody wrote them so
		newest = slices.Clone(all)
	}
	slices.Reverse(newest)
	m := Mark{ID: id, Leading: newest[0], Rivals: newest[1:], All: all, Struck: newest[0].Text.Action == Strike}
	m.Written = writtenBefore(m.Leading, all)
	if m.Written.Text.Feature != nil {
		m.Feature = *m.Written.Text.Feature
	}
	return m
}

// writtenBefore is the newest write that an entry follows, itself if it is one; where the
// entries in between are not known, the newest write of the mark.
func writtenBefore(v Version, all []Version) (found Version) {
	byID := map[string]Version{}
	for _, other := range all {
		byID[other.ID] = other
	}
	reached := map[string]bool{}
	for open := []string{v.ID}; len(open) > 0; {
		at, known := byID[open[0]]
		open = open[1:]
		if !known || reached[at.ID] {
			continue
		}
		reached[at.ID] = true
		if at.Text.Action != Write {
			open = append(open, at.Text.After...)
		} else if found.ID == "" || older(found, at) < 0 {
			found = at
		}
	}
	for _, other := range slices.Backward(all) {
		if found.ID == "" && other.Text.Action == Write {
			return other
		}
	}
	return found
}

// Marks folds all entries of the book.
func (b *Book) Marks(ctx context.Context) ([]Mark, error) {
	all, err := b.all(ctx)
	return Fold(all), err
}

// portion is how many entries are read at once, so that nobody waits long; mostText is how
// many bytes of texts a book may have to be folded, a hundred times a busy week.
const (
	portion  = 1000
	mostText = 512 << 20
)

func (b *Book) all(ctx context.Context) (all []Entry, err error) {
	for size := 0; size <= mostText; {
		var after int64
		if len(all) > 0 {
			after = all[len(all)-1].Number
		}
		some, err := b.Entries(ctx, after, portion)
		if all = append(all, some...); err != nil || len(some) == 0 {
			return all, err
		}
		for _, e := range some {
			size += len(e.Text)
		}
	}
	return nil, notBook(b.path, fmt.Sprintf("the field book has more than %d MB of texts", mostText>>20))
}
