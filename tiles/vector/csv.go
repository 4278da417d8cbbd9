package vector

import (
	"fmt"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
)

// csv reads a table of corners: outlines, lines or points, as is wanted.
func (b *basket) csv(f File) error {
	b.info.Format = "CSV"
	t, err := openTable(f.Data)
	if err != nil {
		return err
	}
	for _, n := range t.notes {
		b.note("%s", n)
	}
	b.noteLeftOut(t.blank, "blank row", "nothing in it")
	points, err := t.points(b.want)
	if err != nil {
		return err
	}
	b.note("The table does not name its datum; its degrees were taken as WGS 84.")
	if b.want == Anything {
		return b.single(t, points)
	}
	groups, order := t.groups(b)
	for _, name := range order {
		if err := b.group(t, points, groups[name], name); err != nil {
			return err
		}
	}
	b.noteColumns(t)
	return nil
}

// points reads the position of every row, or names every row that has none.
func (t *table) points(want Want) ([]orb.Point, error) {
	points := make([]orb.Point, len(t.rows))
	var bad []int
	var first string
	grouped := want != Anything && t.grouped()
	for i, row := range t.rows {
		p, detail := t.point(row)
		if detail == "" && grouped && strings.TrimSpace(row.cells[t.part]) == "" {
			detail = "nothing in column " + quote(t.header[t.part])
		}
		if points[i] = p; detail == "" {
			continue
		}
		if bad = append(bad, row.line); len(bad) == 1 {
			first = detail
		}
	}
	if len(bad) == 0 {
		return points, nil
	}
	detail := first
	if len(bad) > 1 {
		detail = fmt.Sprintf("%d rows give no position; line %d: %s", len(bad), bad[0], first)
	}
	return nil, fault(RuleTable, lineNumbers(bad), detail, "fix these rows; a coordinate is like -105.0456, 105°02'44.2\"W or W105 2.737")
}

func (t *table) point(row tableRow) (p orb.Point, detail string) {
	if got, want := len(row.cells), len(t.header); got != want {
		return p, fmt.Sprintf("%d fields where the header has %d", got, want)
	}
	lat, detail := latitude().degrees(row.cells[t.lat])
	if detail != "" {
		return p, detail
	}
	lon, detail := longitude().degrees(row.cells[t.lon])
	return orb.Point{lon, lat}, detail
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
func (t *table) grouped() bool {
	if t.part < 0 {
		return false
	}
	if plainColumn(t.header[t.part]) != "id" {
		return true
	}
	seen := map[string]bool{}
	for _, row := range t.rows {
		if t.part >= len(row.cells) || seen[row.cells[t.part]] {
			return true
		}
		seen[row.cells[t.part]] = true
	}
	return false
}

// groups gives the numbers of the rows of each outline or line, and the names
// in the order of the table. Without a column for it all rows are one.
func (t *table) groups(b *basket) (groups map[string][]int, order []string) {
	groups = map[string][]int{}
	grouped := t.grouped()
	if t.part >= 0 && !grouped {
		b.note("Column %s is different in every row and was taken as the number of the corner.", quote(t.header[t.part]))
		t.part = -1
	}
	for i, row := range t.rows {
		name := ""
		if grouped {
			name = strings.TrimSpace(row.cells[t.part])
		}
		if groups[name] == nil {
			order = append(order, name)
		}
		groups[name] = append(groups[name], i)
	}
	return groups, order
}

// group makes one outline or line of rows.
func (b *basket) group(t *table, points []orb.Point, rows []int, name string) error {
	line := make([]orb.Point, len(rows))
	for i, row := range rows {
		line[i] = points[row]
	}
	f := geojson.Feature{Geometry: orb.LineString(line), Place: fmt.Sprintf("line %d", t.rows[rows[0]].line)}
	if name != "" {
		f.Place = t.header[t.part] + " " + quote(name)
		f.Properties = map[string]any{t.header[t.part]: name}
	}
	if b.want == Areas {
		ring, closed := outlineOf(line)
		if len(ring) < 4 {
			return fault(geojson.RuleRing, f.Place, fmt.Sprintf("an outline of %d corners", max(0, len(ring)-1)), "an outline needs three or more; for a route ask for a line with a width")
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
func (b *basket) single(t *table, points []orb.Point) error {
	for i, row := range t.rows {
		properties := map[string]any{}
		for c, cell := range row.cells {
			if name := strings.TrimSpace(t.header[c]); c != t.lat && c != t.lon && name != "" && cell != "" {
				properties[name] = cell
			}
		}
		err := b.add(geojson.Feature{Geometry: points[i], Properties: properties, Place: fmt.Sprintf("line %d", row.line)})
		if err != nil {
			return err
		}
	}
	return nil
}

// noteColumns tells which columns outlines and lines do without.
func (b *basket) noteColumns(t *table) {
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
