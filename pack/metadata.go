package pack

import (
	"context"
	"fmt"
	"html"
	"strings"
	"time"

	"groundsheet/tiles/words"
)

// metadata writes the rows of MBTiles 1.3, "Metadata". bounds is an area that
// every zoom covers; center lies in it.
func (p *packWriter) metadata(ctx context.Context, c Content) error {
	lon, lat := c.Bounds.Center()
	low, high := c.Covers[0].Zoom(), c.Covers[len(c.Covers)-1].Zoom()
	rows := [][2]string{
		{"name", c.About.Name},
		{"format", string(p.scan.format)},
		{"bounds", fmt.Sprintf("%.9f,%.9f,%.9f,%.9f", c.Bounds.West, c.Bounds.South, c.Bounds.East, c.Bounds.North)},
		{"center", fmt.Sprintf("%.9f,%.9f,%d", lon, lat, high)},
		{"minzoom", fmt.Sprint(low)},
		{"maxzoom", fmt.Sprint(high)},
		{"attribution", html.EscapeString(c.About.Source.Attribution)}, // the row is HTML by the standard
		{"description", p.description()},
		{"type", "baselayer"},
		{"version", "1"},
	}
	for _, r := range rows {
		if _, err := p.tx.ExecContext(ctx, `INSERT INTO metadata VALUES (?,?)`, r[0], r[1]); err != nil {
			return err
		}
	}
	return nil
}

func (p *packWriter) description() string {
	parts := []string{words.Say("packfile.site_pack")}
	if p.about.Number != "" {
		parts = append(parts, words.Say("packfile.job", "number", p.about.Number))
	}
	if p.about.Invented {
		parts = append(parts, words.Say("packfile.invented"))
	}
	parts = append(parts, words.Say("packfile.captured", "when", orUnknown(p.about.Source.Captured)),
		words.Say("packfile.packed", "day", p.now().Format(time.DateOnly)))
	return strings.Join(parts, "; ")
}
