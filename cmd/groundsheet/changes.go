package main

import (
	_ "embed"

	"github.com/spf13/cobra"
)

//go:embed CHANGES.md
var changes string

func (a *app) changesCommand() *cobra.Command {
	return &cobra.Command{
		Use: "changes", Short: "Tell what changed from version to version, and what you have to do", Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error { a.say("%s", changes); return nil },
	}
}
