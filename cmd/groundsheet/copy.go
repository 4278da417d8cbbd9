package main

import (
	"github.com/spf13/cobra"

	"groundsheet/pack"
	"groundsheet/tiles/measure"
)

func (a *app) copyCommand() *cobra.Command {
	var to string
	var asJSON bool
	c := &cobra.Command{
		Use: "copy PACK…|JOB… --to FOLDER", Short: "Copy packs to a stick or another folder, and read the copies back",
		Long: `copy copies packs into a folder, such as that of a memory stick, under their own
names. A copy is written under another name, put on the disk, read back and compared;
only then it has the name: nothing half stands under it, whatever happens. An older copy
of the same job's pack is replaced, any other file is not. Of a job folder, its packs
are copied. With --json it prints one document a pack: file, bytes, sha256, seal,
replaced.`,
		Args: args(1, 0, "no pack is named", "copy site --to /media/STICK"),
		RunE: func(c *cobra.Command, args []string) error {
			if to == "" {
				return wrongUse("it is not said where to", "give the folder, such as --to /media/STICK")
			}
			packs, err := packFiles(args)
			if err != nil {
				return err
			}
			for _, path := range packs {
				copied, err := pack.Copy(c.Context(), path, to, nil)
				if err != nil {
					return err
				}
				if !asJSON {
					a.say("%s: %s, read back and the same; seal %s", copied.File, measure.Size(copied.Bytes), copied.Seal)
				} else if err := a.json(copied, len(packs) == 1); err != nil {
					return err
				}
			}
			return nil
		},
	}
	c.Flags().StringVar(&to, "to", "", "the folder that the copies go into")
	c.Flags().BoolVar(&asJSON, "json", false, "print the result as JSON")
	return c
}
