package fieldbook

import (
	"context"
	"fmt"
)

// Verification is what a book was found to hold.
type Verification struct {
	Entries int
	Marks   int
	Struck  int
	Photos  int // proved
	Pending int // photos that have not all come
	Missing int // photos that marks name and the book has not
	Last    string
	Faults  []string // what breaks the chain or cannot be; none = the book is whole
	Notes   []string // what is odd and breaks nothing
}

// Whole reports whether nothing is wrong with the book.
func (v Verification) Whole() bool { return len(v.Faults) == 0 }

// mostFaults bounds what is told of a broken book.
const mostFaults = 20

func (v *Verification) fault(format string, args ...any) {
	if len(v.Faults) < mostFaults {
		v.Faults = append(v.Faults, fmt.Sprintf(format, args...))
	}
}

// Verify reads all of the book: the chain, each text against what the book says of it, and
// each photo. What is wrong is in the result; the error is of a file that cannot be read.
func (b *Book) Verify(ctx context.Context) (v Verification, err error) {
	_, _, v, err = Prove(ctx, b)
	return v, err
}

// Prove is [Book.Verify] that also gives what it read.
func Prove(ctx context.Context, b *Book) (all []Entry, marks []Mark, v Verification, err error) {
	if all, err = b.all(ctx); err != nil {
		return nil, nil, v, err
	}
	b.mu.Lock()
	var pairs [][2]string
	if b.db != nil {
		pairs, err = b.pairs(ctx, b.db)
	}
	b.mu.Unlock()
	if err != nil {
		return nil, nil, v, err
	}
	marks = marksOf(v.chain(all, identity(pairs)))
	v.Entries, v.Marks, v.Struck = len(all), len(marks), Struck(marks)
	return all, marks, v, b.verifyPhotos(ctx, &v, marks)
}

// chain proves the chain of all entries, and gives those whose text can be read.
func (v *Verification) chain(all []Entry, before string) (read []Version) {
	v.Last = before
	for i, e := range all {
		switch {
		case e.Number != int64(i+1):
			v.fault("entry %d stands where entry %d belongs", e.Number, i+1)
		case e.Before != v.Last:
			v.fault("entry %d does not follow the one before it", e.Number)
		case e.Hash != hashOf(e.Chain()):
			v.fault("entry %d is not what it was when it came", e.Number)
		}
		if t, err := Parse(e.Text); err != nil {
			v.fault("entry %d: %v", e.Number, err)
		} else if t.ID != e.ID || t.Mark != e.Mark || t.Action != e.Action {
			v.fault("entry %d: the text is of another entry", e.Number)
		} else {
			read = append(read, Version{e, t})
		}
		if i > 0 && e.Received.Before(all[i-1].Received) {
			v.Notes = append(v.Notes, fmt.Sprintf("entry %d: the laptop's clock was set back by %s before it", e.Number, all[i-1].Received.Sub(e.Received)))
		}
		v.Last = e.Hash
	}
	return read
}

// verifyPhotos proves that each photo is what its name says: it was found to be a picture
// when it came, and [Book.Photo] proves that again.
func (b *Book) verifyPhotos(ctx context.Context, v *Verification, marks []Mark) error {
	names, err := b.photos(ctx)
	if err != nil {
		return err
	}
	for hash, proved := range names {
		if !proved {
			v.Pending++
			continue
		}
		v.Photos++
		b.mu.Lock()
		data, err := photo(ctx, b.db, hash)
		b.mu.Unlock()
		if err != nil {
			return b.explain(err)
		}
		if hashOf(data) != hash {
			v.fault("photo %s is not what it was when it came", hash[:min(8, len(hash))])
		}
	}
	for hash := range named(marks) {
		if !names[hash] {
			v.Missing++
		}
	}
	return nil
}

// named are the hashes of the photos that any version of a mark names.
func named(marks []Mark) map[string]bool {
	all := map[string]bool{}
	for _, m := range marks {
		for _, v := range m.All {
			if v.Text.Feature == nil {
				continue
			}
			photos, _ := v.Text.Feature.Properties["photos"].([]any)
			for _, p := range photos {
				if photo, ok := p.(map[string]any); ok {
					hash, _ := photo["hash"].(string)
					all[hash] = true
				}
			}
		}
	}
	return all
}

// photos are the hashes of the photos in the book, and whether each is proved.
func (b *Book) photos(ctx context.Context) (map[string]bool, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	all := map[string]bool{}
	if b.db == nil {
		return all, nil
	}
	rows, err := b.db.QueryContext(ctx, `SELECT hash, proved IS NOT NULL FROM photo`)
	if err != nil {
		return nil, b.explain(err)
	}
	defer rows.Close()
	for rows.Next() {
		var hash string
		var proved bool
		if err := rows.Scan(&hash, &proved); err != nil {
			return nil, b.explain(err)
		}
		all[hash] = proved
	}
	return all, b.explain(rows.Err())
}
