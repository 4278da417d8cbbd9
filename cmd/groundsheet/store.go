package main

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

func (a *app) storeCommand() *cobra.Command {
	c := &cobra.Command{Use: "store", Short: "Look after the office store: show, verify, close jobs"}
	c.AddCommand(a.storeShowCommand(), a.storeCloseCommand(), a.storeVerifyCommand())
	return c
}

// withStore runs with the store when there is one; without one it says so and
// makes nothing.
func (a *app) withStore(ctx context.Context, do func(store.Store) error) (err error) {
	there, err := a.storeThere()
	if err != nil {
		return err
	}
	if !there {
		folder, err := a.storePlace() // a database is always there
		if err != nil {
			return err
		}
		return &wrongUse{"there is no office store at " + folder, "pack a job first, or name the store with --store"}
	}
	st, err := a.openStore(ctx)
	if err != nil {
		return err
	}
	defer func() { closeInto(st.Close, &err) }()
	return do(st)
}

func (a *app) storeCloseCommand() *cobra.Command {
	return &cobra.Command{
		Use: "close DIR…", Short: "Mark jobs as closed, so that prune may take their tiles",
		Long: `close marks jobs as closed: their tiles may be pruned. The job folder may be
gone already. Packing a job opens it again. Nothing is deleted.`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return &wrongUse{"no job folder is named", "such as: groundsheet store close site"}
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			return a.withStore(c.Context(), func(st store.Store) error { return a.runClose(c.Context(), st, args) })
		},
	}
}

// runClose closes all of the jobs or none.
func (a *app) runClose(ctx context.Context, st store.Store, dirs []string) error {
	jobs, err := st.Jobs(ctx)
	if err != nil {
		return err
	}
	var keys []string
	for _, dir := range dirs {
		key, err := jobKey(dir)
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(jobs, func(j store.Job) bool { return j.Key == key }) {
			return &wrongUse{fmt.Sprintf("no job in %s was packed from this store", dir), "known: " + knownJobs(jobs)}
		}
		keys = append(keys, key)
	}
	for i, key := range keys {
		if _, err := st.CloseJob(ctx, key, time.Now().UTC()); err != nil {
			return err
		}
		a.say("closed %s; groundsheet prune --closed takes the tiles that only closed jobs want", dirs[i])
	}
	return nil
}

func knownJobs(jobs []store.Job) string {
	var known []string
	for _, j := range jobs {
		if name := folderOf(j.Key); !slices.Contains(known, name) {
			known = append(known, name)
		}
	}
	if len(known) == 0 {
		return "none"
	}
	return strings.Join(known, ", ")
}

// sourceOf is the name in a shelf's name, which ends with a fingerprint.
func sourceOf(shelf string) string {
	if i := strings.LastIndexByte(shelf, '-'); i > 0 {
		return shelf[:i]
	}
	return shelf
}

// knownShelves are the shelves of the sources that are known now: in the
// operator's file, and in those of the jobs of this computer. A sources file
// that cannot be read knows nothing.
func (a *app) knownShelves(jobs []store.Job) (map[string]source.Source, error) {
	book, err := a.book("")
	if err != nil {
		return nil, err
	}
	known := map[string]source.Source{}
	addBook(known, book)
	for _, j := range jobs {
		if own, err := a.book(folderOf(j.Key)); err == nil {
			addBook(known, own)
		}
	}
	return known, nil
}

func addBook(known map[string]source.Source, book source.Config) {
	for _, name := range book.Names() {
		if s, err := book.Find(name); err == nil {
			known[s.StoreName()] = s
		}
	}
}
