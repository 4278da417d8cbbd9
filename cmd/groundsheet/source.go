package main

import (
	"errors"
	"strings"

	"github.com/spf13/cobra"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/source"
)

func (a *app) sourceCommand() *cobra.Command {
	c := &cobra.Command{Use: "source", Short: "Add, try and list the operator's sources"}
	list := &cobra.Command{
		Use: "list [DIR]", Short: "List the sources that are known, and whether their terms allow packing",
		Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			return a.runSourceList(strings.Join(args, ""))
		},
	}
	c.AddCommand(list, a.sourceAddCommand(), a.sourceTryCommand())
	return c
}

func (a *app) runSourceList(dir string) error {
	sources, err := a.office().Sources(dir)
	if err != nil {
		return err
	}
	for _, name := range sources.Names() {
		s, err := sources.Find(name)
		if err != nil {
			return err
		}
		a.say("%s: %s, zooms %d to %d, %s", s.Name, s.Kind, s.Zooms.Min, s.Zooms.Max, termsWords(s))
	}
	return nil
}

func termsWords(s source.Source) string {
	var refused *fault.Fault
	if errors.As(s.Refusal(), &refused) {
		return "may not be packed: " + refused.Detail
	}
	return strings.Join(append([]string{"offline " + s.Terms.Offline}, limits(s)...), ", ")
}
