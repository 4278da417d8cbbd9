package main

import (
	"context"

	"github.com/spf13/cobra"

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
	st, err := a.office().NeedStore(ctx)
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
		Args: args(1, 0, "no job folder is named", "store close site"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := a.office().CloseJobs(c.Context(), args...); err != nil {
				return err
			}
			for _, dir := range args {
				a.say("closed %s; groundsheet prune --closed takes the tiles that only closed jobs want", dir)
			}
			return nil
		},
	}
}
