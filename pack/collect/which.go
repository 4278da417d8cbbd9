package collect

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"groundsheet/pack/fieldbook"
	"groundsheet/pack/record"
	"groundsheet/tiles/fault"
)

// Kept lists the field books that a job has, by their names in its folder.
func Kept(dir string) (names []string, err error) {
	entries, err := os.ReadDir(filepath.Join(dir, Folder))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	for _, e := range entries {
		if isBook(e) {
			names = append(names, Folder+"/"+e.Name())
		}
	}
	return names, err
}

// inFolders puts in the place of each folder the field books in it, such as those of a stick.
func inFolders(books []string) (all []string, err error) {
	for _, name := range books {
		if info, err := os.Stat(name); err != nil || !info.IsDir() {
			all = append(all, name)
			continue
		}
		entries, err := os.ReadDir(name)
		if err != nil {
			return nil, err
		}
		n := len(all)
		for _, e := range entries {
			if isBook(e) {
				all = append(all, filepath.Join(name, e.Name()))
			}
		}
		if len(all) == n {
			return nil, &fault.Fault{Kind: fieldbook.NotBook, Place: name, Detail: "there is no field book in this folder",
				Remedy: "name a file that ends in " + fieldbook.Extension}
		}
	}
	return all, nil
}

func isBook(e fs.DirEntry) bool {
	return !e.IsDir() && strings.HasSuffix(e.Name(), fieldbook.Extension) && !strings.HasPrefix(e.Name(), ".")
}

var bookID = regexp.MustCompile(`^[0-9a-f]{32}$`)

// isOurs refuses a book that is of another job, by what it says of itself.
func (c *collecting) isOurs(file string, b *book) error {
	a := b.about
	switch {
	case !bookID.MatchString(a.Book):
		return &fault.Fault{Kind: Broken, Place: file, Detail: "the book has no identity of its own", Remedy: "take another copy from the laptop"}
	case c.options.AnyJob || a.Name == c.job.Name && a.Number == c.job.Number:
		return nil
	}
	return &fault.Fault{Kind: OtherJob, Place: file,
		Detail: fmt.Sprintf("the book is of the job %s, number %s, and this one is %s, number %s", record.Quote(a.Name), record.Quote(a.Number),
			record.Quote(c.job.Name), record.Quote(c.job.Number)),
		Remedy: "name the job that it belongs to; if this one was renamed, say --any-job"}
}

func (c *collecting) nameFor(b *book) string {
	return Folder + "/" + record.Slug(b.about.Name) + "-" + b.about.Book[:12] + fieldbook.Extension
}

// compare says what a copy of a book is beside the one that the job has.
func compare(file string, b, had *book) (string, error) {
	n, m := len(b.entries), len(had.entries)
	for i := range min(n, m) {
		if b.entries[i].Hash != had.entries[i].Hash {
			return "", &fault.Fault{Kind: Parted, Place: file,
				Detail: fmt.Sprintf("from entry %d on it is not the book that the job has as %s (%d entries here, %d there): one of the two was written anew",
					i+1, had.kept, n, m),
				Remedy: "keep both, and ask who had the laptop; what the job has stays as it is"}
		}
	}
	switch {
	case n > m, n == m && b.photos > had.photos:
		return Longer, nil
	case n < m, b.photos < had.photos:
		return Shorter, nil
	}
	return Same, nil
}
