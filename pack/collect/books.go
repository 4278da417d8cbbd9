package collect

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"groundsheet/pack"
	"groundsheet/pack/fieldbook"
	"groundsheet/tiles/durable"
	"groundsheet/tiles/fault"
)

// book is one copy of a field book.
type book struct {
	file    string // where it is
	kept    string // its name in the job folder
	about   fieldbook.About
	entries []fieldbook.Entry
	marks   []fieldbook.Mark // of these entries alone
	photos  int              // whole ones
	fresh   bool
}

// readKept reads the books that the job has.
func (c *collecting) readKept() error {
	names, err := Kept(c.dir)
	for _, name := range names {
		b, v, err := c.read(filepath.Join(c.dir, filepath.FromSlash(name)))
		if err != nil {
			return err
		}
		if b.kept = name; !v.Whole() {
			return &fault.Fault{Kind: Broken, Place: b.file, Detail: "the copy that the job keeps is not what was brought home",
				Remedy: "move it away, and collect the book of the laptop again"}
		}
		if other := c.byID[b.about.Book]; other != nil {
			return &fault.Fault{Kind: Parted, Place: b.file, Detail: "is the same book as " + other.file, Remedy: "move one of the two away"}
		}
		c.byID[b.about.Book] = b
	}
	return err
}

// read reads and proves a book.
func (c *collecting) read(file string) (b *book, v fieldbook.Verification, err error) {
	open, err := fieldbook.Read(file)
	if err != nil {
		return nil, v, err
	}
	defer func() { err = errors.Join(err, open.Close()) }()
	b = &book{file: file, about: open.About()}
	b.entries, b.marks, v, err = fieldbook.Prove(c.ctx, open)
	b.photos = v.Photos
	return b, v, err
}

// provingName begins the name of the folder where copies are proved.
const provingName = ".proving-"

// takeAll copies, proves and compares the books that were named.
func (c *collecting) takeAll(books []string) (err error) {
	home := filepath.Join(c.dir, Folder)
	if c.options.DryRun {
		home = ""
	} else if _, err := os.Stat(home); errors.Is(err, fs.ErrNotExist) {
		if err := os.Mkdir(home, 0o755); err != nil {
			return err
		}
		c.made = true
	}
	if !c.options.DryRun { // what killed runs left; this one has the job's lock
		left, _ := filepath.Glob(filepath.Join(home, provingName+"*")) // the pattern is a good one
		for _, old := range left {
			_ = os.RemoveAll(old) // what cannot be removed now is tried again next time
		}
	}
	if c.temp, err = os.MkdirTemp(home, provingName); err != nil {
		return err
	}
	if books, err = inFolders(books); err != nil {
		return err
	}
	for i, file := range books {
		if err := c.take(i, file); err != nil {
			return err
		}
	}
	return nil
}

func (c *collecting) take(n int, file string) error {
	staged, err := c.copy(n, file)
	if err != nil {
		return unreadable(file, err)
	}
	b, v, err := c.read(staged)
	if err != nil {
		return unreadable(file, err)
	}
	if !v.Whole() {
		return &fault.Fault{Kind: Broken, Place: file, Detail: strings.Join(v.Faults[:min(len(v.Faults), 3)], "; "),
			Remedy: "take another copy from the laptop; keep this one: what is before the first of these is as it was written"}
	}
	if err := c.isOurs(file, b); err != nil {
		return err
	}
	line := BookLine{File: file, State: New, Entries: v.Entries, Photos: v.Photos, Pending: v.Pending, Missing: v.Missing,
		Last: v.Last, Notes: append([]string{}, v.Notes...)}
	had := c.byID[b.about.Book]
	if had == nil {
		b.kept = c.nameFor(b)
	} else if line.State, err = compare(file, b, had); err != nil {
		return err
	} else {
		b.kept = had.kept
	}
	if line.Kept = b.kept; line.State == New || line.State == Longer {
		b.fresh = true
		c.byID[b.about.Book] = b
	}
	c.report.Books = append(c.report.Books, line)
	return nil
}

// unreadable names the book that was handed in: a damaged one is bad input here.
func unreadable(file string, err error) error {
	if errors.Is(err, fieldbook.Damaged) {
		return &fault.Fault{Kind: Broken, Place: file, Detail: "cannot be read as a field book: it is another file, or a part is missing",
			Remedy: "take another copy from the laptop"}
	}
	return err
}

// copy copies a book while nobody can write into it.
func (c *collecting) copy(n int, file string) (staged string, err error) {
	open, err := fieldbook.Read(file)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, open.Close()) }()
	staged = filepath.Join(c.temp, fmt.Sprint(n, fieldbook.Extension))
	return staged, fieldbook.Hold(c.ctx, open, func(whole string) error {
		_, _, err := pack.CopyFile(c.ctx, whole, staged, nil)
		return err
	})
}

// fold makes marks of all books.
func (c *collecting) fold() []fieldbook.Mark {
	var all [][]fieldbook.Mark
	for _, id := range slices.Sorted(maps.Keys(c.byID)) {
		all = append(all, c.byID[id].marks)
	}
	return fieldbook.Merge(all...)
}

// keep gives the proved copies their names.
func (c *collecting) keep() error {
	for _, b := range c.byID {
		if !b.fresh {
			continue
		}
		if err := durable.Rename(b.file, filepath.Join(c.dir, filepath.FromSlash(b.kept))); err != nil {
			return err
		}
		c.changes = true
	}
	return nil
}

// close takes away what was only for proving.
func (c *collecting) close() {
	if c.temp != "" {
		_ = os.RemoveAll(c.temp) // what is left there counts for nothing
	}
	if c.made {
		_ = os.Remove(filepath.Join(c.dir, Folder)) // only when it is empty
	}
}
