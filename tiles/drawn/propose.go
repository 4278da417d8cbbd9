package drawn

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
	"groundsheet/tiles/vector"
)

// Proposal is what the files of a source say of themselves.
type Proposal struct {
	Source source.Source // with roles, names, bounds and zooms as proposed
	Notes  []string      // how the files are read, and what a person should know
}

// zooms are those of a drawing when none are stated: it is sharp at each.
var zooms = tiles.Zooms{Min: 8, Max: 21}

// Propose looks at the files of a draft and proposes how each is drawn. What the draft
// states is taken as it is. Errors are those of [Open].
func Propose(ctx context.Context, draft source.Source) (p Proposal, err error) {
	p.Source = draft
	p.Source.Kind, p.Source.TileSize = source.KindDrawn, max(draft.TileSize, 256)
	if p.Source.Zooms == (tiles.Zooms{}) {
		p.Source.Zooms = zooms
	}
	p.Source.Draw = nil
	for _, d := range draft.Draw {
		layers, err := byLayer(d)
		if err != nil {
			return p, err
		}
		for _, one := range layers {
			if err := ctx.Err(); err != nil {
				return p, err
			}
			if err := p.file(one); err != nil {
				return p, fmt.Errorf("%s: %w", d.File, err)
			}
		}
	}
	if len(p.Source.Draw) == 0 {
		return p, unusable("the files", "nothing in them can be drawn", "name files of streets, parcels, water or addresses")
	}
	p.note("a street is drawn as a line as wide as can be read, never as wide as it is")
	return p, nil
}

// byLayer makes one of each layer of a file with several, unless they are chosen.
func byLayer(d source.Draw) (all []source.Draw, err error) {
	f, err := vector.Open(d.File)
	if err != nil || len(d.Layers) > 0 {
		return []source.Draw{d}, err
	}
	f.How = vector.How{EPSG: d.EPSG, Encoding: d.Encoding}
	layers, err := vector.Layers(f)
	if err != nil || len(layers) < 2 {
		return []source.Draw{d}, err
	}
	for _, l := range layers {
		one := d
		one.Layers = []string{l.Name}
		all = append(all, one)
	}
	return all, nil
}

// file proposes how one file, or one layer of it, is drawn.
func (p *Proposal) file(d source.Draw) error {
	asked := d.Name
	d.Name = ""
	r, err := readOne(d)
	if err != nil {
		return err
	}
	name := filepath.Base(d.File)
	if len(d.Layers) > 0 {
		name += ", layer " + d.Layers[0]
	}
	how := "as stated"
	if d.Role == "" {
		if d.Role, how = roleOf(d, r); d.Role == "" {
			p.note("%s: left out, because neither its name nor its fields say what it is; state it: ROLE=%s", name, filepath.Base(d.File))
			return nil
		}
	}
	d.Name = asked
	if d.Name == "" {
		d.Name = FieldFor(d.Role, r.fields)
	}
	said := "no names: none of its fields is named like one"
	if d.Name != "" {
		said = "names from its field " + d.Name
	}
	p.note("%s: %s drawn as %s (%s); %s", name, measure.Count(len(r.shapes), "shape"), d.Role, how, said)
	for _, n := range r.info.Notes {
		p.note("%s: %s", name, n)
	}
	if strings.HasPrefix(r.info.Datum, "NAD83") {
		p.note("%s: NAD83 is drawn as if it were WGS 84, as maps commonly do: the map may lie 1 to 2 m beside positions in WGS 84", name)
	}
	p.ground(r)
	p.Source.Draw = append(p.Source.Draw, d)
	return nil
}

func (p *Proposal) note(format string, args ...any) {
	p.Notes = append(p.Notes, fmt.Sprintf(format, args...))
}

// ground widens the bounds by a file.
func (p *Proposal) ground(r read) {
	for _, s := range r.shapes {
		b := s.Geometry.Bound()
		west, north := tiles.Unproject(b.Min[0], b.Min[1])
		east, south := tiles.Unproject(b.Max[0], b.Max[1])
		box := tiles.Box{West: west, South: south, East: east, North: north}
		if p.Source.Bounds != nil {
			box = box.Join(*p.Source.Bounds)
		}
		p.Source.Bounds = &box
	}
}

// roleWords are what names of files and layers have in them, the most telling first.
var roleWords = []struct {
	role  source.Role
	words []string
}{
	{source.RoleAddress, []string{"address", "situs", "housenum", "addr"}},
	{source.RoleParcel, []string{"parcel", "lots", "cadast", "taxlot"}},
	{source.RoleBuilding, []string{"building", "footprint", "structure"}},
	{source.RolePath, []string{"sidewalk", "trail", "path", "driveway"}},
	{source.RoleMainStreet, []string{"highway", "freeway", "arterial", "mainroad"}},
	{source.RoleRail, []string{"rail", "track"}},
	{source.RoleStreet, []string{"street", "road", "centerline", "centreline", "strt", "transportation"}},
	{source.RoleWater, []string{"water", "hydro", "lake", "river", "stream", "creek", "pond"}},
	{source.RoleGreen, []string{"park", "wood", "forest", "green", "landcover"}},
	{source.RoleBoundary, []string{"boundar", "limit", "easement", "rightofway", "county", "counties", "states"}},
	{source.RoleLand, []string{"land", "coast", "shore"}},
	{source.RolePlace, []string{"place", "landmark", "cities", "towns"}},
}

// RoleFor is the role that a name of a file or a layer tells, "" when it tells none.
func RoleFor(name string) source.Role {
	name = strings.NewReplacer("_", "", "-", "", " ", "").Replace(strings.ToLower(name))
	for _, row := range roleWords {
		if slices.ContainsFunc(row.words, func(w string) bool { return strings.Contains(name, w) }) {
			return row.role
		}
	}
	return ""
}

// roleOf proposes a role, and says from what; "" when nothing tells.
func roleOf(d source.Draw, r read) (source.Role, string) {
	texts := []string{strings.Join(d.Layers, " "), filepath.Base(d.File)}
	for i, text := range texts {
		if role := RoleFor(text); role != "" {
			return role, "by the name of " + []string{"its layer", "the file"}[i]
		}
	}
	points := true
	for _, s := range r.shapes {
		for part := range geojson.Parts(s.Geometry) {
			if _, is := part.(orb.Point); !is {
				points = false
			}
		}
	}
	if points && FieldFor(source.RoleAddress, r.fields) != "" {
		return source.RoleAddress, "points with house numbers"
	}
	return "", ""
}

// FieldFor is the field that likely carries the name, "" if none does.
func FieldFor(role source.Role, fields []string) string {
	names := []string{"fullname", "full_name", "name", "namelsad", "label", "gnis_name"}
	switch role {
	case source.RoleStreet, source.RoleMainStreet, source.RolePath:
		names = []string{"fullname", "full_name", "st_name", "stname", "street_name", "streetname", "road_name", "roadname", "strname", "name", "label", "street"}
	case source.RoleAddress:
		names = []string{"house", "housenumber", "house_number", "houseno", "house_no", "addr_num", "addrnum",
			"addr_no", "addno", "add_number", "addr:housenumber", "stnum", "st_num", "num", "number"}
	case source.RoleParcel, source.RoleBuilding:
		return "" // their numbers are for offices
	}
	for _, n := range names {
		if i := slices.IndexFunc(fields, func(f string) bool { return strings.EqualFold(f, n) }); i >= 0 {
			return fields[i]
		}
	}
	return ""
}
