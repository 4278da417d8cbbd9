package main

import (
	"strings"

	"github.com/spf13/cobra"

	"groundsheet/pack/handover"
	"groundsheet/tiles/words"
)

func (a *app) handoverCommand() *cobra.Command {
	var r handover.Request
	var forms []string
	var asJSON bool
	c := &cobra.Command{
		Use: "handover JOB [BOOK…] --as FORM", Short: "Hand over what was found on site, in the forms that clients take",
		Long: `handover writes what the field books of a job hold into a folder, with the photos and
READ-FIRST.txt: cautions, counts, coordinates, fields, and what each form cannot hold.
Without BOOK these are the books that were collected in JOB/fieldbooks. What the crew
struck is left out and counted. Each find has its accuracy, method, time and quality
level, empty where they were not stated; lines through readings go along as worked out.

Forms, several with several --as: geojson, gpkg (GeoPackage), kml, kmz (with photos),
gpx, shp (shapefiles), csv, dxf, report (a PDF).

Coordinates are in degrees of WGS 84, a drawing's in the UTM zone of the place. With
--epsg, gpkg, shp, csv and dxf are in that system. On NAD83, say what is to be done with
the meter or two between the two: --shift "WGS 84 to NAD83(2011) at 2026.9" (the decimal
year of the visit), or --shift none.

An earlier hand-over in the folder is replaced, anything else there is not. The exit
code is 1 where the chain of a book is broken: what is handed over says so too.`,
		Args: args(1, 0, "no job is named", "handover site --as gpkg --as report"),
		RunE: func(c *cobra.Command, args []string) error {
			for _, f := range forms {
				r.Forms = append(r.Forms, handover.Form(strings.ToLower(f)))
			}
			r.Books = args[1:]
			s, err := handover.OfJob(c.Context(), args[0], r)
			if err != nil {
				return err
			}
			if asJSON {
				err = a.json(s, true)
			} else {
				a.sayHandover(s, r)
			}
			if err == nil && !s.Whole {
				err = notFit
			}
			return err
		},
	}
	f := c.Flags()
	f.StringSliceVar(&forms, "as", nil, "a form: geojson, gpkg, kml, kmz, gpx, shp, csv, dxf or report; give it several times for several")
	f.IntVar(&r.EPSG, "epsg", 0, "coordinate system by its EPSG number, such as 32613 (else degrees of WGS 84)")
	f.StringVar(&r.Shift, "shift", "", `for a system on NAD83: "WGS 84 to NAD83(2011) at 2026.9", or none`)
	f.StringVar(&r.Within, "within", "", "only what touches the area in this file (GeoJSON, KML, shapefile …)")
	f.StringSliceVar(&r.Utilities, "utility", nil, "only this utility, by the color code; give it several times for several")
	f.BoolVar(&r.WithRecords, "with-records", false, "what was recorded before the visit goes along, in files of its own")
	f.BoolVar(&r.Tiles, "tiles", false, "the GeoPackage holds the base map too, where its terms let others keep a copy")
	f.StringVarP(&r.Folder, "output", "o", "", "the folder to write (else out/handover in the job)")
	f.BoolVar(&asJSON, "json", false, "print the result as JSON")
	return c
}

func (a *app) sayHandover(s handover.Summary, r handover.Request) {
	a.say("%s: %s", s.Folder, words.Say("handover.said", "found", s.Found, "files", len(s.Files)))
	a.say("%s", words.Say("handover.said_ground", "ground", s.Ground))
	if r.Within != "" || len(r.Utilities) > 0 {
		a.say("%s", words.Say("handover.said_part", "n", s.LeftOut))
	}
	for _, one := range []struct {
		n   int
		say string
	}{
		{s.Records, words.Say("handover.count_records", "n", s.Records)}, {s.WorkedOut, words.Say("handover.count_joined", "n", s.WorkedOut)},
		{s.NoPlace, words.Say("handover.count_no_place", "n", s.NoPlace)}, {s.Struck, words.Say("handover.count_struck", "n", s.Struck)},
		{s.Versions, words.Say("handover.said_versions", "n", s.Versions)}, {s.NoPhoto, words.Say("handover.count_photos", "n", s.NoPhoto)},
	} {
		if one.n > 0 {
			a.say("  %s", one.say)
		}
	}
	for _, b := range s.Books {
		if !b.Verified.Whole() {
			a.say("%s: %s", b.Name, words.Say("handover.said_broken", "faults", strings.Join(b.Verified.Faults, "; ")))
		}
	}
	a.say("%s", words.Say("handover.said_first", "file", handover.ReadFirst))
}
