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
}

// DrawnOf are the roles of a source's files, each once, from the ground up.
func DrawnOf(src source.Source) (all []Drawn) {
	for _, role := range source.Roles() {
		if slices.ContainsFunc(src.Draw, func(d source.Draw) bool { return d.Role == role }) {
			all = append(all, Drawn{Role: role})
		}
	}
	return all
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

// caution says of when the base map is, and what it does not show.
func (s AboutSource) caution() string {
	if len(s.Drawn) > 0 {
		return words.Say("drawn.caution", "when", orUnknown(s.Captured))
	}
	return words.Say("caution.picture", "when", orUnknown(s.Captured))
}
