package main

import (
	"bytes"
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// manualCommand is for whoever packages the program: it writes the manual's pages.
func (a *app) manualCommand() *cobra.Command {
	return &cobra.Command{
		Use: "manual FOLDER", Short: "Write a page of the manual for each command", Hidden: true,
		Args: args(1, 1, "no folder is named", "manual man1"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := os.MkdirAll(args[0], 0o755); err != nil {
				return err
			}
			return writeManual(args[0], c.Root())
		},
	}
}

// writeManual writes the page of a command, and those of the commands under it.
func writeManual(dir string, c *cobra.Command) error {
	name := strings.ReplaceAll(c.CommandPath(), " ", "-")
	if err := os.WriteFile(filepath.Join(dir, name+".1"), manualPage(name, c), 0o644); err != nil {
		return err
	}
	for _, under := range c.Commands() {
		if under.IsAvailableCommand() && under.Name() != "help" {
			if err := writeManual(dir, under); err != nil {
				return err
			}
		}
	}
	return nil
}

// manualPage is the help of a command as man(7) takes it. What is laid out in columns
// there stays so here.
func manualPage(name string, c *cobra.Command) []byte {
	var p bytes.Buffer
	fmt.Fprintf(&p, ".TH %s 1 \"\" \"groundsheet\" \"groundsheet\"\n.nh\n.ad l\n", strings.ToUpper(name))
	fmt.Fprintf(&p, ".SH NAME\n%s \\- %s\n", roff(name), roff(c.Short))
	fmt.Fprintf(&p, ".SH SYNOPSIS\n.B %s\n", roff(c.UseLine()))
	fmt.Fprintf(&p, ".SH DESCRIPTION\n.nf\n%s\n.fi\n", roff(cmp.Or(c.Long, c.Short)))
	options(&p, "OPTIONS", c.NonInheritedFlags())
	options(&p, "OPTIONS OF EVERY COMMAND", c.InheritedFlags())
	var others []string
	if c.HasParent() {
		others = append(others, strings.ReplaceAll(c.Parent().CommandPath(), " ", "-"))
	}
	for _, under := range c.Commands() {
		if under.IsAvailableCommand() && under.Name() != "help" {
			others = append(others, name+"-"+under.Name())
		}
	}
	if len(others) > 0 {
		fmt.Fprintf(&p, ".SH SEE ALSO\n%s(1)\n", roff(strings.Join(others, "(1), ")))
	}
	return p.Bytes()
}

func options(p *bytes.Buffer, title string, flags *pflag.FlagSet) {
	if !flags.HasAvailableFlags() {
		return
	}
	fmt.Fprintf(p, ".SH %s\n", title)
	flags.VisitAll(func(f *pflag.Flag) {
		if f.Hidden {
			return
		}
		value, usage := pflag.UnquoteUsage(f)
		if f.DefValue != "" && f.DefValue != "false" && f.DefValue != "[]" && f.DefValue != "0" && f.DefValue != "0s" {
			usage += " (default " + f.DefValue + ")"
		}
		fmt.Fprintf(p, ".TP\n.B %s\n%s\n", roff(strings.TrimSpace("--"+f.Name+" "+value)), roff(usage))
	})
}

// roff writes a text so that nothing in it is a request of roff's.
func roff(text string) string {
	text = strings.NewReplacer(`\`, `\e`, "-", `\-`).Replace(text)
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		if strings.HasPrefix(line, ".") || strings.HasPrefix(line, "'") {
			lines[i] = `\&` + line
		}
	}
	return strings.Join(lines, "\n")
}
