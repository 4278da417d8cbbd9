package pack

import (
	"context"
	"fmt"
	"html"
	"strings"
	"time"
)

// metadata writes the rows of MBTiles 1.3, "Metadata". bounds is an area that
// every zoom covers; center lies in it.
func (p *pass) metadata(ctx context.Context, c Content) error {
	lon, lat := c.Bounds.Center()
	low, high := c.Covers[0].Zoom(), c.Covers[len(c.Covers)-1].Zoom()
	rows := [][2]string{
		{"name", c.About.Name},
		{"format", string(p.survey.format)},
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

func (p *pass) description() string {
	parts := []string{"Site pack"}
	if p.about.Number != "" {
		parts = append(parts, "job "+p.about.Number)
	}
	if p.about.Invented {
		parts = append(parts, "invented practice data")
	}
	parts = append(parts, "picture taken "+orUnknown(p.about.Source.Captured), "packed "+p.now().Format(time.DateOnly)+" UTC")
	return strings.Join(parts, "; ")
}
