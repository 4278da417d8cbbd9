package pack

import (
	"slices"

	"groundsheet/tiles/source"
	"groundsheet/tiles/words"
)

// Drawn says of one kind of thing that a base map of lines and areas shows, and not of
// a picture taken from above.
type Drawn struct {
	Role source.Role `json:"role"`
	// of vector tiles: the layers, the field with the name, and the values that a shape
	// has to have, as for [source.Draw]; empty when files were drawn into pictures
	Layers []string            `json:"layers,omitempty"`
	Name   string              `json:"name,omitempty"`
	Only   map[string][]string `json:"only,omitempty"`
}

// DrawnOf are the roles of a source's files, each once, from the ground up; of vector
// tiles what is drawn of their layers.
func DrawnOf(src source.Source) (all []Drawn) {
	for _, role := range source.Roles() {
		for _, d := range src.Draw {
			switch {
			case d.Role != role:
			case src.Vector():
				all = append(all, Drawn{role, d.Layers, d.Name, d.Only})
			case len(all) == 0 || all[len(all)-1].Role != role:
				all = append(all, Drawn{Role: role})
			}
		}
	}
	return all
}

// Legend are the roles of a drawn base, each once, from the ground up.
func (s AboutSource) Legend() []Drawn {
	return slices.CompactFunc(slices.Clone(s.Drawn), func(a, b Drawn) bool { return a.Role == b.Role })
}

// Words is what a role shows, for a legend; "" for one that is not known.
func (d Drawn) Words() string {
	switch d.Role {
	case source.RoleLand:
		return words.Say("drawn.land")
	case source.RoleGreen:
		return words.Say("drawn.green")
	case source.RoleWater:
		return words.Say("drawn.water")
	case source.RoleParcel:
		return words.Say("drawn.parcel")
	case source.RoleBoundary:
		return words.Say("drawn.boundary")
	case source.RoleBuilding:
		return words.Say("drawn.building")
	case source.RolePath:
		return words.Say("drawn.path")
	case source.RoleStreet:
		return words.Say("drawn.street")
	case source.RoleMainStreet:
		return words.Say("drawn.main_street")
	case source.RoleRail:
		return words.Say("drawn.rail")
	case source.RoleAddress:
		return words.Say("drawn.address")
	case source.RolePlace:
		return words.Say("drawn.place")
	}
	return ""
}

// Files says of when the files of a drawn base map are.
func (s AboutSource) Files() string {
	if s.Captured == "" {
		return words.Say("drawn.files_undated")
	}
	return words.Say("drawn.files", "when", s.Captured)
}

// caution says of when the base map is, and what it does not show.
func (s AboutSource) caution() string {
	if len(s.Drawn) > 0 {
		return words.Say("drawn.caution", "files", s.Files())
	}
	return words.Say("caution.picture", "when", orUnknown(s.Captured))
}
