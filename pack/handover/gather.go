package handover

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"path/filepath"
	"time"

	"groundsheet/pack/fieldbook"
	"groundsheet/pack/record"
	"groundsheet/tiles/words"
)

// BookState is what is known of one of the books.
type BookState struct {
	Name     string // of its file
	About    fieldbook.About
	Verified fieldbook.Verification
}

// material is what the books hold, as far as it goes along.
type material struct {
	open    []*fieldbook.Book
	books   []BookState
	found   []Find
	records []Find
	all     []fieldbook.Mark
	marks   []fieldbook.Mark // of all: not struck
	rivals  []string         // the other versions of marks, in words
	struck  int
	cut     []Find // left out: not of the area or the utilities that were asked for
	noPhoto int    // photos that did not come
	photos  map[string]photo
	newest  time.Time // of the entries, by the laptops' clocks
}

// photo is where a photo is.
type photo struct {
	book *fieldbook.Book
	name string // of its file, within the hand-over
}

// close lets the books go.
func (m *material) close() error {
	var errs []error
	for _, b := range m.open {
		errs = append(errs, b.Close())
	}
	return errors.Join(errs...)
}

// gather reads all books and folds their entries together.
func gather(ctx context.Context, paths []string) (m *material, err error) {
	m = &material{photos: map[string]photo{}}
	var all []fieldbook.Entry
	of := map[string]string{} // entry -> book
	for _, path := range paths {
		b, err := fieldbook.Read(path)
		if err != nil {
			return nil, errors.Join(err, m.close())
		}
		m.open = append(m.open, b)
		v, err := b.Verify(ctx)
		if err != nil {
			return nil, errors.Join(err, m.close())
		}
		m.books = append(m.books, BookState{filepath.Base(path), b.About(), v})
		entries, err := entriesOf(ctx, b)
		if err != nil {
			return nil, errors.Join(err, m.close())
		}
		for _, e := range entries {
			if of[e.ID] == "" {
				of[e.ID] = filepath.Base(path)
			}
			if e.Received.After(m.newest) {
				m.newest = e.Received
			}
		}
		all = append(all, entries...)
	}
	m.all = fieldbook.Fold(all)
	for _, mark := range m.all {
		if mark.Struck {
			m.struck++
			continue
		}
		m.marks = append(m.marks, mark)
	}
	accuracy := accuracies(m.marks)
	for _, mark := range m.marks {
		f := markFind(mark, of, accuracy)
		if err := m.addPhotos(ctx, mark, &f); err != nil {
			return nil, errors.Join(err, m.close())
		}
		m.found = append(m.found, f.split()...)
	}
	return m, nil
}

const portion = 1000

func entriesOf(ctx context.Context, b *fieldbook.Book) (all []fieldbook.Entry, err error) {
	for {
		after := int64(0)
		if len(all) > 0 {
			after = all[len(all)-1].Number
		}
		some, err := b.Entries(ctx, after, portion)
		if all = append(all, some...); err != nil || len(some) < portion {
			return all, err
		}
	}
}

// accuracies are those of the marks in the shape of records, by their IDs.
func accuracies(marks []fieldbook.Mark) map[string]*float64 {
	all := map[string]*float64{}
	for _, o := range fieldbook.Overlays(marks) {
		for _, f := range o.Features {
			all[f.ID] = o.AccuracyOf(f.Properties)
		}
	}
	return all
}

// noBetter is an accuracy in metres to the next tenth of a millimetre: never better than it is stated.
func noBetter(m *float64) *float64 {
	if m == nil {
		return nil
	}
	up := math.Ceil(*m*1e4-1e-6) / 1e4
	return &up
}

// markFind is the leading version of a mark.
func markFind(m fieldbook.Mark, of map[string]string, accuracy map[string]*float64) Find {
	p := m.Feature.Properties
	f := Find{ID: m.ID, Source: FieldBook, Kind: m.Kind(), Utility: record.Text(p, "utility"), Geometry: m.Feature.Geometry, Values: map[string]any{}}
	f.take(p)
	if position, _ := p["position"].(map[string]any); fieldbook.NotThere(position) {
		f.notThere = true
		f.setApart(position)
	}
	v := m.Written
	f.set("accuracy_m", noBetter(accuracy[m.ID]))
	f.set("who", v.Text.Who)
	f.set("recorded", stampOf(v.Text.Written()))
	f.set("clock", v.Text.Clock.Format(time.RFC3339Nano))
	if v.Text.Ahead != nil {
		f.set("clock_ahead_s", v.Text.Ahead.Seconds())
	}
	f.set("received", stampOf(v.Received))
	f.set("book", of[v.ID])
	f.set("entry", float64(v.Number))
	f.set("hash", v.Hash)
	if len(m.Rivals) > 0 {
		f.set("versions", float64(len(m.Rivals)+1))
	}
	switch f.Kind {
	case fieldbook.NothingFound:
		f.set("limits", words.Say("handover.limits_nothing"))
	case fieldbook.Unlocatable:
		f.set("limits", words.Say("handover.limits_unlocatable"))
	}
	f.limit()
	return f
}

func stampOf(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") }

// addPhotos names the photos of a mark. One that is in no book is named by its hash.
func (m *material) addPhotos(ctx context.Context, mark fieldbook.Mark, f *Find) error {
	listed, _ := mark.Feature.Properties["photos"].([]any)
	text := ""
	var taken []map[string]any
	for _, one := range listed {
		p, _ := one.(map[string]any)
		hash, _ := p["hash"].(string)
		at, err := m.findPhoto(ctx, hash)
		if err != nil {
			return err
		}
		name := at.name
		if name == "" {
			m.noPhoto++
			name = words.Say("handover.photo_missing", "hash", hash)
		} else {
			f.Photos = append(f.Photos, hash)
		}
		if text != "" {
			text += "; "
		}
		text += name
		told := map[string]any{"photo": name}
		for _, what := range []string{"taken", "direction_deg", "lat", "lon"} {
			if p[what] != nil {
				told[what] = p[what]
			}
		}
		if len(told) > 1 {
			taken = append(taken, told)
		}
	}
	f.set("photos", text)
	if len(taken) > 0 {
		return f.addOther("photos", taken)
	}
	return nil
}

// setApart takes figures that were true of another place or time out of the columns, where they
// would read as those of the find; as evidence they stay.
func (f Find) setApart(position map[string]any) {
	then := map[string]any{}
	for _, name := range []string{"error_m", "stated_m", "spread_m"} {
		if delete(f.Values, name); position[name] != nil {
			then[name] = position[name]
		}
	}
	if len(then) > 0 {
		_ = f.addOther("position_then", then) // numbers, as they were read from JSON
	}
}

// addOther adds to what no column is for.
func (f Find) addOther(name string, v any) error {
	all := map[string]any{}
	_ = json.Unmarshal([]byte(f.text("other")), &all) // "" is nothing yet
	all[name] = v
	text, err := json.Marshal(all)
	f.set("other", string(text))
	return err
}

func (m *material) findPhoto(ctx context.Context, hash string) (photo, error) {
	if known, ok := m.photos[hash]; ok {
		return known, nil
	}
	for _, b := range m.open {
		if s, err := b.Have(ctx, hash); err != nil {
			return photo{}, err
		} else if !s.Done {
			continue
		}
		_, media, err := b.Photo(ctx, hash)
		if err != nil || media == "" { // it is not what its name says: verifying told so
			continue
		}
		ending := map[string]string{"image/jpeg": ".jpg", "image/png": ".png"}[media]
		m.photos[hash] = photo{b, "photos/" + hash[:16] + ending}
		return m.photos[hash], nil
	}
	return photo{}, nil
}
