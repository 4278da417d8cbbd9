package crs_test

import (
	"fmt"

	"github.com/paulmach/orb"

	"groundsheet/tiles/crs"
)

func ExampleByCode() {
	s, err := crs.ByCode(2231)
	fmt.Println(s.Text(), "on", s.Datum, err)
	p, ok := s.ToDegrees(orb.Point{3_139_693.2, 1_242_850.1})
	fmt.Printf("%.7f %.7f %v\n", p[0], p[1], ok)
	_, err = crs.ByCode(32054)
	fmt.Println(err)
	// Output:
	// NAD83 / Colorado North (ftUS), EPSG:2231, in us survey ft on NAD83 <nil>
	// -105.0013744 39.9989308 true
	// EPSG:32054: it is on NAD27; it lies 10 to 100 m from WGS 84 by amounts that only a grid tells: ask the record's owner for the same data on NAD83, or let a surveyor convert it with NADCON and say so in the record's note
}

// A table has eastings and northings, and nobody says of what: these are the systems
// that put them within 10 km of the job. A person has to choose.
func ExampleFitting() {
	job := orb.Point{-105.0012, 40.0001}
	for _, f := range crs.Fitting([]orb.Point{{3_139_700, 1_242_900}, {3_139_800, 1_242_900}}, job, 10_000) {
		fmt.Printf("%.0f m away: %s\n", f.Away, f.System.Text())
	}
	// Output:
	// 116 m away: NAD83 / Colorado North (ftUS), EPSG:2231, in us survey ft
	// 116 m away: NAD83(HARN) / Colorado North (ftUS), EPSG:2876, in us survey ft
	// 116 m away: NAD83(NSRS2007) / Colorado North (ftUS), EPSG:3504, in us survey ft
	// 116 m away: NAD83(2011) / Colorado North (ftUS), EPSG:6430, in us survey ft
}
