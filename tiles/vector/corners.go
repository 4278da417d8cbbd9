package vector

import (
	"fmt"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
)

// corners is a table of corners or marks, and its columns.
type corners struct {
	*table
	lat, lon, part int // part is -1 when there is none
}

// csv reads a table of corners: outlines, lines or points, as is wanted.
func (b *builder) csv(f File) error {
	b.info.Format = "CSV"
	t, err := openTable(f)
	if err != nil {
		return err
	}
	c := &corners{table: t}
	find, err := c.places(b, f)
	if err != nil {
		return err
	}
	for _, n := range t.notes {
		b.note("%s", n)
	}
	b.noteLeftOut(t.blank, "blank row", "nothing in it")
	c.locateRows(find)
	if err := c.complete(b.want != Anything && c.grouped()); err != nil {
		return err
	}
	if b.info.Datum == "" {
		b.note("The table does not name its datum; its degrees were taken as WGS 84.")
	}
	if b.want == Anything {
		return b.single(c)
	}
	groups, order := c.groups(b)
	for _, name := range order {
		if err := b.group(c, groups[name], name); err != nil {
			return err
		}
	}
	b.noteColumns(c)
	return nil
}

// columns finds the coordinates, named angles before y and x, and what divides
// the rows into outlines.
func (c *corners) columns() (err error) {
	if c.lat, err = c.coordinate("latitude", "", "lat", "latitude"); err == nil && c.lat < 0 {
		c.lat, err = c.coordinate("latitude", "", "y")
	}
	if err != nil {
		return err
	}
	if c.lon, err = c.coordinate("longitude", "", "lon", "long", "lng", "longitude"); err == nil && c.lon < 0 {
		c.lon, err = c.coordinate("longitude", "", "x")
	}
	if err == nil && (c.lat < 0 || c.lon < 0) {
		err = c.wrongHeader("no columns for latitude and longitude",
			"name the columns latitude and longitude (or lat and lon, y and x) in the first line")
	}
	c.findPart()
	return err
}

func (c *corners) findPart() {
	if c.part = c.column("part"); c.part < 0 {
		if c.part = c.column("ring"); c.part < 0 {
			c.part = c.column("id")
		}
	}
}

// complete names every row that has no place, or no part where rows are grouped.
func (c *corners) complete(grouped bool) error {
	var bad []int
	first := ""
	for _, row := range c.rows {
		detail := row.Fault
		if detail == "" && grouped && strings.TrimSpace(row.Cells[c.part]) == "" {
			detail = "nothing in column " + quote(c.header[c.part])
		}
		if detail == "" {
			continue
		}
		if bad = append(bad, row.Line); len(bad) == 1 {
			first = detail
		}
	}
	if len(bad) == 0 {
		return nil
	}
	if len(bad) > 1 {
		first = fmt.Sprintf("%d rows give no position; line %d: %s", len(bad), bad[0], first)
	}
	return refuse(RuleTable, lineNumbers(bad), first,
		"fix these rows; a coordinate is like -105.0456, 105°02'44.2\"W or W105 2.737")
}

// lineNumbers names the first twenty lines.
func lineNumbers(lines []int) string {
	const most = 20
	if len(lines) == 1 {
		return fmt.Sprintf("line %d", lines[0])
	}
	var all []string
	for _, n := range lines[:min(most, len(lines))] {
		all = append(all, fmt.Sprint(n))
	}
	place := "lines " + strings.Join(all, ", ")
	if more := len(lines) - most; more > 0 {
		place += fmt.Sprintf(" and %d more", more)
	}
	return place
}

// grouped says whether a column divides the rows into outlines. A column "id"
// that is different in every row numbers the corners instead.
func (c *corners) grouped() bool {
	if c.part < 0 {
		return false
	}
	if plainColumn(c.header[c.part]) != "id" {
		return true
	}
	seen := map[string]bool{}
	for _, row := range c.rows {
		if c.part >= len(row.Cells) || seen[row.Cells[c.part]] {
			return true
		}
		seen[row.Cells[c.part]] = true
	}
	return false
}

// groups gives the numbers of the rows of each outline or line, and the names
// in the order of the table. Without a column for it all rows are one.
func (c *corners) groups(b *builder) (groups map[string][]int, order []string) {
	groups = map[string][]int{}
	grouped := c.grouped()
	if c.part >= 0 && !grouped {
		b.note("Column %s is different in every row and was taken as the number of the corner.", quote(c.header[c.part]))
		c.part = -1
	}
	for i, row := range c.rows {
		name := ""
		if grouped {
			name = strings.TrimSpace(row.Cells[c.part])
		}
		if groups[name] == nil {
			order = append(order, name)
		}
		groups[name] = append(groups[name], i)
	}
	return groups, order
}

// group makes one outline or line of rows.
func (b *builder) group(t *corners, rows []int, name string) error {
	line := make([]orb.Point, len(rows))
	for i, row := range rows {
		line[i] = t.rows[row].Point
	}
	f := geojson.Feature{Geometry: orb.LineString(line), Place: fmt.Sprintf("line %d", t.rows[rows[0]].Line)}
	if name != "" {
		f.Place = t.header[t.part] + " " + quote(name)
		f.Properties = map[string]any{t.header[t.part]: name}
	}
	if b.want == Areas {
		ring, closed := outlineOf(line)
		if len(ring) < 4 {
			return refuse(geojson.RuleRing, f.Place, fmt.Sprintf("an outline of %d corners", max(0, len(ring)-1)),
				"an outline needs three or more; for a route ask for a line with a width")
		}
		if closed {
			b.note("Outlines were closed from their last corner to their first.")
		}
		f.Geometry = orb.Polygon{ring}
	}
	return b.add(f)
}

// outlineOf closes a ring; closed says that it was open.
func outlineOf(line []orb.Point) (ring orb.Ring, closed bool) {
	if len(line) > 1 && line[0] == line[len(line)-1] {
		return line, false
	}
	return append(line, line[0]), true
}

// single makes a point of every row, with the other columns as properties.
func (b *builder) single(t *corners) error {
	for _, row := range t.rows {
		properties := map[string]any{}
		for c, cell := range row.Cells {
			if name := strings.TrimSpace(t.header[c]); c != t.lat && c != t.lon && name != "" && cell != "" {
				properties[name] = cell
			}
		}
		err := b.add(geojson.Feature{Geometry: row.Point, Properties: properties, Place: fmt.Sprintf("line %d", row.Line)})
		if err != nil {
			return err
		}
	}
	return nil
}

// noteColumns lists the columns that outlines and lines ignore.
func (b *builder) noteColumns(t *corners) {
	var names []string
	for i, name := range t.header {
		if i != t.lat && i != t.lon && i != t.part {
			names = append(names, strings.TrimSpace(name))
		}
	}
	if len(names) > 0 {
		b.note("Other columns were left out: %s.", quote(strings.Join(names, ", ")))
	}
	if t.part >= 0 && b.want == Areas && len(b.features) > 1 {
		b.note("Each %s is an outline of its own; a table has no holes.", quote(t.header[t.part]))
	}
}
