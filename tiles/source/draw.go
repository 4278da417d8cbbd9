package source

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// Draw says of one file, or of layers of vector tiles, what is drawn of them, and as
// what: one [[NAME.draw]] table.
type Draw struct {
	File     string              // absolute once read from a file; "" for vector tiles
	Layers   []string            // of the file, "*" for all, nil = the only one it has; of vector tiles
	Role     Role                // as what it is drawn
	Name     string              // field that carries the name or the house number; "" = nothing is written
	Only     map[string][]string // fields and the values of which a shape has to have one; nil = all shapes
	EPSG     int                 // coordinate system of a file that states none; 0 = as the file says
	Encoding string              // of the file's text; "" = as the file says
}

// Role is what a shape of a drawn base is, in plain words.
type Role string

// The roles, from the ground up as they are drawn.
const (
	RoleLand       Role = "land"        // ground that ends somewhere: a shore, a county
	RoleGreen      Role = "green"       // parks, woods, fields
	RoleWater      Role = "water"       // lakes, rivers, streams
	RoleParcel     Role = "parcel"      // lots
	RoleBoundary   Role = "boundary"    // limits of places, easements, rights of way
	RoleBuilding   Role = "building"    // outlines of buildings
	RolePath       Role = "path"        // footways, trails, drives
	RoleStreet     Role = "street"      // streets, as lines or as paved ground
	RoleMainStreet Role = "main-street" // through roads and highways
	RoleRail       Role = "rail"        // tracks
	RoleAddress    Role = "address"     // points with a house number
	RolePlace      Role = "place"       // points with a name
)

// Roles are all of them, from the ground up.
func Roles() []Role {
	return []Role{RoleLand, RoleGreen, RoleWater, RoleParcel, RoleBoundary, RoleBuilding, RolePath, RoleStreet, RoleMainStreet,
		RoleRail, RoleAddress, RolePlace}
}

// Shape is what a role mostly is: "area", "line" or "point".
func (r Role) Shape() string {
	switch r {
	case RoleAddress, RolePlace:
		return "point"
	case RoleBoundary, RolePath, RoleStreet, RoleMainStreet, RoleRail:
		return "line"
	}
	return "area"
}

const drawKeys = "file, layer, role, name, only, epsg, encoding"

// entryDraw is a [[NAME.draw]] table as the file writes it.
type entryDraw struct {
	File     string         `toml:"file"`
	Layer    any            `toml:"layer"` // one name or a list
	Role     string         `toml:"role"`
	Name     string         `toml:"name"`
	Only     map[string]any `toml:"only"` // one value or a list
	EPSG     int            `toml:"epsg"`
	Encoding string         `toml:"encoding"`
}

const mostDraws = 100

// FormatVector is the format of vector tiles, in the words of the MBTiles 1.3 format row.
const FormatVector = "pbf"

// Vector reports whether the tiles are vector tiles, whose layers Draw names.
func (s Source) Vector() bool { return s.Format == FormatVector }

// checkVector looks at what is stated of vector tiles, and that pictures have none of
// it.
func (c *checker) checkVector() {
	if !slices.Contains([]string{KindXYZ, KindTMS, KindTileJSON, KindMBTiles, KindFolder}, c.Kind) {
		c.unless(!c.Vector() || c.Kind == KindRaster, "format", `"pbf" is not possible for kind %s`, c.Kind)
		return
	}
	c.unless(c.Format == "" || c.Vector(), "format", `%q is not possible: "pbf" for vector tiles; leave it out for pictures`, c.Format)
	c.unless(!c.Vector() || len(c.Draw) > 0, "draw", `is missing: a [[%s.draw]] table for each layer that is drawn, with layer = "roads" and role = "street"`, c.Name)
	c.unless(c.Vector() || len(c.Draw) == 0, "draw", `is for vector tiles (format = "pbf") and for kind drawn`)
}

// draws turns the tables into what is drawn, and lists what is wrong with them.
func (e entry) draws(wrong *problems) (all []Draw) {
	wrong.unless(len(e.Draw) <= mostDraws, "draw", "%d tables are more than %d", len(e.Draw), mostDraws)
	for i, d := range e.Draw[:min(len(e.Draw), mostDraws)] {
		key := func(name string) string { return fmt.Sprintf("draw[%d].%s", i, name) }
		one := Draw{File: d.File, Role: Role(d.Role), Name: d.Name, EPSG: d.EPSG, Encoding: d.Encoding}
		var ok bool
		one.Layers, ok = listed(d.Layer)
		wrong.unless(ok, key("layer"), "want the name of a layer, or a list of names")
		if e.Kind != KindDrawn {
			wrong.unless(len(one.Layers) > 0, key("layer"), `is missing: the layer of the tiles, such as "roads"`)
			wrong.unless(d.File == "" && d.EPSG == 0 && d.Encoding == "", key("file"), "file, epsg and encoding make no sense for vector tiles")
		}
		wrong.unless(d.File != "" || e.Kind != KindDrawn, key("file"), `is missing: a file of streets, parcels, water …, such as "streets.shp"`)
		wrong.unless(slices.Contains(Roles(), one.Role), key("role"), "%q is no role: one of %s", d.Role, roleNames())
		for _, field := range slices.Sorted(maps.Keys(d.Only)) {
			values, ok := listed(d.Only[field])
			wrong.unless(ok && len(values) > 0, key("only"), "%s: want a value of the field, or a list of them", field)
			if one.Only == nil {
				one.Only = map[string][]string{}
			}
			one.Only[field] = values
		}
		one.check(key, wrong)
		all = append(all, one)
	}
	return all
}

// check refuses control characters and endless texts.
func (d Draw) check(key func(string) string, wrong *problems) {
	texts := map[string]string{"file": d.File, "name": d.Name, "encoding": d.Encoding, "layer": strings.Join(d.Layers, "")}
	for field, values := range d.Only {
		texts["only"] += field + strings.Join(values, "")
	}
	for _, name := range slices.Sorted(maps.Keys(texts)) {
		wrong.unless(strings.IndexFunc(texts[name], unicode.IsControl) < 0, key(name), "must be one line without control characters")
		wrong.unless(len(texts[name]) <= 2000, key(name), "is longer than 2000 characters")
	}
	wrong.unless(d.EPSG >= 0, key("epsg"), "%d is no number of a coordinate system, such as 2231", d.EPSG)
}

// listed is one value or a list of them, as texts; false for anything else.
func listed(v any) ([]string, bool) {
	items, is := v.([]any)
	if !is {
		if v == nil {
			return nil, true
		}
		items = []any{v}
	}
	var all []string
	for _, item := range items {
		switch item := item.(type) {
		case string:
			all = append(all, item)
		case int64, bool:
			all = append(all, fmt.Sprint(item))
		case float64:
			all = append(all, strconv.FormatFloat(item, 'f', -1, 64))
		default:
			return nil, false
		}
	}
	return all, true
}

func roleNames() string {
	var names []string
	for _, r := range Roles() {
		names = append(names, string(r))
	}
	return strings.Join(names, ", ")
}

// text is the table as sources.toml has it.
func (d Draw) text(name string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "\n[[%s.draw]]\n", name)
	line := func(key, value string) {
		if value != "" {
			fmt.Fprintf(&b, "%s = %s\n", key, quoted(value))
		}
	}
	line("file", d.File)
	if len(d.Layers) > 0 {
		fmt.Fprintf(&b, "layer = %s\n", quotedList(d.Layers))
	}
	line("role", string(d.Role))
	line("name", d.Name)
	var only []string
	for _, field := range slices.Sorted(maps.Keys(d.Only)) {
		only = append(only, quoted(field)+" = "+quotedList(d.Only[field]))
	}
	if len(only) > 0 {
		fmt.Fprintf(&b, "only = { %s }\n", strings.Join(only, ", "))
	}
	if d.EPSG != 0 {
		fmt.Fprintf(&b, "epsg = %d\n", d.EPSG)
	}
	line("encoding", d.Encoding)
	return b.String()
}

func quotedList(all []string) string {
	var items []string
	for _, one := range all {
		items = append(items, quoted(one))
	}
	return "[" + strings.Join(items, ", ") + "]"
}

// fingerprint is what decides the picture of a tile.
func (d Draw) fingerprint() string { return d.text("") }

func clonedDraws(draws []Draw) []Draw {
	draws = slices.Clone(draws)
	for i := range draws {
		draws[i].Layers, draws[i].Only = slices.Clone(draws[i].Layers), maps.Clone(draws[i].Only)
	}
	return draws
}

// Shows reports whether a shape with these properties is drawn.
func (d Draw) Shows(value func(field string) (text string, has bool)) bool {
	for field, values := range d.Only {
		if text, has := value(field); !has || !slices.Contains(values, text) {
			return false
		}
	}
	return true
}

// TextOf is the value of a field as text, whatever the case of its name.
func TextOf(properties map[string]any, field string) (string, bool) {
	v, has := properties[field]
	if !has {
		for name, other := range properties {
			if strings.EqualFold(name, field) {
				v, has = other, true
				break
			}
		}
	}
	switch v := v.(type) {
	case nil:
		return "", has
	case string:
		return strings.TrimSpace(v), has
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64), has
	}
	return fmt.Sprint(v), has
}
