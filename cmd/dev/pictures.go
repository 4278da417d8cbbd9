package main

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"
)

// The pictures of README.md, in testdata/pictures, and the largest that each and all of
// them may be, in bytes. They show the demo's invented job.
var readmePictures = []string{"day.webp", "sun.webp", "night.webp", "brief.webp", "desk.webp", "plan.svg"}

const (
	largestPicture  = 150_000
	largestScreen   = 250_000 // of the desk, which is a whole screen
	largestPictures = 900_000
)

func picturesCommand() *cobra.Command {
	return &cobra.Command{
		Use: "pictures", Short: "Make the pictures of README.md anew, from the demo's invented job", Args: cobra.NoArgs,
		Long: `pictures packs the demo's invented job, serves it, and photographs the map page by
day, in strong sun and by night, a sheet of the brief, and the desk; what plan says on
the terminal becomes a drawing. They go into testdata/pictures. It needs Chromium.`,
		RunE: func(c *cobra.Command, _ []string) error { return withRoot(c.Context(), makePictures) },
	}
}

func makePictures(ctx context.Context, r repo) error {
	if err := build(ctx, r); err != nil {
		return err
	}
	d := demoRun{repo: r, dir: r.path(".cache", "pictures")}
	if err := os.RemoveAll(d.dir); err != nil { // the plan tells of an office that has fetched nothing yet
		return err
	}
	running, err := d.prepare(ctx)
	if err != nil {
		return err
	}
	defer running.Close() //nolint:errcheck // the process ends with it
	to := r.path("testdata", "pictures")
	if err := errors.Join(os.MkdirAll(to, 0o755), d.drawPlan(ctx, filepath.Join(to, "plan.svg"))); err != nil {
		return err
	}
	for _, verb := range [][]string{{"pack", d.site()}, {"brief", d.pack()}} {
		if err := r.runIn(ctx, r.root, d.env(), r.program(), verb...); err != nil {
			return err
		}
	}
	server, err := d.startServer(ctx, "127.0.0.1:0")
	if err != nil {
		return err
	}
	brief := strings.TrimSuffix(d.pack(), ".mbtiles") + ".html"
	photographed := r.runIn(ctx, r.path("serve", "web"), nil, "node", "test/pictures.mjs",
		"--url", server.base, "--brief", brief, "--to", to, "--largest", fmt.Sprint(largestPicture))
	return errors.Join(photographed, server.stop(), d.photographDesk(ctx, to))
}

// photographDesk opens the desk on the demo's job.
func (d demoRun) photographDesk(ctx context.Context, to string) error {
	return d.repo.runIn(ctx, d.repo.path("serve", "web"), []string{"GROUNDSHEET=" + d.repo.program()}, "node", "test/deskpicture.mjs",
		"--jobs", d.dir, "--store", filepath.Join(d.dir, "store"), "--to", to, "--largest", fmt.Sprint(largestScreen))
}

// drawPlan writes what plan says on the terminal as a drawing.
func (d demoRun) drawPlan(ctx context.Context, path string) error {
	var out bytes.Buffer
	c := exec.CommandContext(ctx, d.repo.program(), "plan", "site")
	c.Dir, c.Env, c.Stdout, c.Stderr = d.dir, append(os.Environ(), d.env()...), &out, os.Stderr
	if err := c.Run(); err != nil {
		return fmt.Errorf("groundsheet plan: %w", err)
	}
	return os.WriteFile(path, terminal("$ groundsheet plan site\n"+out.String()), 0o644)
}

// How a terminal is drawn, in units of the drawing.
const (
	terminalColumns = 100 // wider lines go on below
	letterWidth     = 8.4 // of a monospaced letter of letterSize
	letterSize      = 14
	lineHeight      = 19
	terminalEdge    = 16
)

// terminal draws the words of a terminal as SVG, each line as text: small, sharp at any
// size, and read aloud.
func terminal(words string) []byte {
	lines := wrap(strings.TrimRight(words, "\n"))
	var b bytes.Buffer
	width, height := terminalColumns*letterWidth+2*terminalEdge, len(lines)*lineHeight+2*terminalEdge
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %d" width="%.0f" height="%d" role="img">`+"\n", width, height, width, height)
	fmt.Fprintf(&b, `<title>A terminal: what groundsheet plan says of an invented job</title><path fill="#14181b" d="M0 0H%.0fV%dH0z"/>`+"\n", width, height)
	fmt.Fprintf(&b, `<g font-family="ui-monospace,SFMono-Regular,Menlo,Consolas,DejaVu Sans Mono,monospace" font-size="%d" fill="#f3efe4" xml:space="preserve">`+"\n", letterSize)
	for i, line := range lines {
		if line == "" {
			continue
		}
		fmt.Fprintf(&b, `<text x="%d" y="%d" textLength="%.1f" lengthAdjust="spacingAndGlyphs">`,
			terminalEdge, terminalEdge+i*lineHeight+letterSize, float64(utf8.RuneCountInString(line))*letterWidth)
		_ = xml.EscapeText(&b, []byte(line)) // a buffer never fails
		b.WriteString("</text>\n")
	}
	b.WriteString("</g></svg>\n")
	return b.Bytes()
}

// wrap breaks lines that are wider than the terminal, at a space.
func wrap(words string) (lines []string) {
	for line := range strings.SplitSeq(words, "\n") {
		for utf8.RuneCountInString(line) > terminalColumns {
			head := string([]rune(line)[:terminalColumns])
			at := strings.LastIndex(head, " ")
			if strings.TrimSpace(head[:max(at, 0)]) == "" { // one long word
				at = len(head)
			}
			lines = append(lines, line[:at])
			line = "    " + strings.TrimLeft(line[at:], " ")
		}
		lines = append(lines, line)
	}
	return lines
}
