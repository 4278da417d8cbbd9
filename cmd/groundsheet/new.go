package main

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/pack"
	"groundsheet/pack/job"
	"groundsheet/pack/office"
	"groundsheet/pack/record"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/places"
	"groundsheet/tiles/source"
)

// newFlags are the flags of new. Those that are taken as they are go into the draft.
type newFlags struct {
	draft                                                           job.Job
	around, radius, along, width, margin, fitIn, source, zooms, box string
	ticket                                                          pack.Ticket
	form                                                            record.Form
	yes                                                             bool
}

func (a *app) newCommand() *cobra.Command {
	var f newFlags
	c := &cobra.Command{
		Use:   "new DIR --name NAME (--area FILE… | --around LAT,LON --radius 300ft | --along FILE --width 60ft | --box LAT,LON,LAT,LON)",
		Short: "Make a job folder from a dig area, a circle or a route",
		Example: `  groundsheet new site --name "Cutbank lift station" --area dig-area.geojson --source county-ortho
  groundsheet new site --name "Valve 12" --around 40.0123,-105.0456 --radius 200ft`,
		Args: args(1, 1, "one new folder is wanted", "new site --name NAME --area FILE"),
		RunE: func(_ *cobra.Command, args []string) error { return a.runNew(args[0], f) },
	}
	fl := c.Flags()
	fl.StringVar(&f.draft.Name, "name", "", "name of the job (needed)")
	fl.StringVar(&f.draft.Number, "number", "", "the office's number of the job")
	fl.StringArrayVar(&f.draft.Area, "area", nil, "file with the dig area: GeoJSON, KML, KMZ, GPX, shapefile, GeoPackage, DXF, WKT or CSV of corners; may be given again")
	fl.StringVar(&f.around, "around", "", "middle of a circle, WGS 84: LAT,LON in degrees (minutes, seconds), UTM or MGRS")
	fl.StringVar(&f.radius, "radius", "", "radius of the circle, such as 300ft")
	fl.StringVar(&f.box, "box", "", "two opposite corners of a box, LAT,LON,LAT,LON; other forms of a place with a semicolon between them")
	fl.StringVar(&f.along, "along", "", "file with a route")
	fl.StringVar(&f.width, "width", "", "whole width of the route, such as 60ft")
	fl.IntVar(&f.form.EPSG, "epsg", 0, "coordinate system of the files that do not state theirs, such as 2231 (else as the files say)")
	fl.StringArrayVar(&f.form.Layers, "layer", nil, "layer of the files that is read, \"*\" for all; may be given again")
	fl.StringVar(&f.form.Encoding, "encoding", "", "of the files' text, such as windows-1252 (else as the files say)")
	fl.StringVar(&f.margin, "margin", "50ft", "ground round the area that is packed too")
	fl.StringVar(&f.draft.Units, "units", "us", "us or metric: how things are shown")
	fl.StringVar(&f.source, "source", "", "source of the base map, as named in sources.toml")
	fl.StringVar(&f.zooms, "zooms", "", "shallowest and deepest zoom, such as 14,21 (else the plan chooses)")
	fl.StringVar(&f.fitIn, "fit-in", "", "what the pack may weigh, such as 2GB")
	fl.StringVar(&f.draft.OneCall, "one-call", "", "the local one-call number, shown with the cautions")
	fl.StringVar(&f.ticket.Number, "ticket", "", "number of the one-call ticket")
	fl.StringVar(&f.ticket.ValidUntil, "valid-until", "", "last valid day of the ticket, YYYY-MM-DD")
	fl.BoolVar(&f.yes, "yes", false, "take places as they are written, also where another seems to be meant")
	fl.BoolVar(&f.draft.Invented, "invented", false, "a practice job; said on every screen")
	return c
}

func (a *app) runNew(dir string, f newFlags) error {
	if strings.TrimSpace(f.draft.Name) == "" {
		return wrongUse("the job has no name", `give one: --name "Cutbank lift station"`)
	}
	if info, err := os.Stat(dir); err == nil && !info.IsDir() {
		return wrongUse(dir+" is a file", "name a new folder for the job")
	}
	book, err := a.office().Sources(dir)
	if err != nil {
		return err
	}
	src, err := office.ChooseSource(book, f.source)
	if err != nil {
		return err
	}
	d, err := f.job(src)
	if err != nil {
		return err
	}
	job, err := job.New(dir, d)
	if err != nil {
		return err
	}
	a.say("made %s for %q: base map %s, margin %s", dir, job.Name, src.Name, job.Margin.In(job.Units))
	if src.Kind == source.KindPractice {
		a.say("%s is invented imagery, for practice only: before real work set another source in %s/job.toml", src.Name, dir)
	}
	a.say("next: groundsheet plan %s", dir)
	return nil
}

// job is the draft with what the other flags say.
func (f newFlags) job(src source.Source) (j job.Job, err error) {
	j = f.draft
	if j.Margin, err = measure.ParseDistance(f.margin); err != nil {
		return j, fmt.Errorf("--margin: %w", err)
	}
	if f.fitIn != "" {
		if j.FitIn, err = measure.ParseSize(f.fitIn); err != nil {
			return j, fmt.Errorf("--fit-in: %w", err)
		}
	}
	base := job.Base{Source: src.Name}
	if base.Zooms, base.Auto, err = f.zoomRange(); err != nil {
		return j, err
	}
	j.Bases = []job.Base{base}
	if f.ticket != (pack.Ticket{}) {
		if _, err := time.Parse(time.DateOnly, f.ticket.ValidUntil); f.ticket.ValidUntil != "" && err != nil {
			return j, wrongUse(fmt.Sprintf("--valid-until %q is no day", f.ticket.ValidUntil), "write YYYY-MM-DD")
		}
		j.Ticket = &f.ticket
	}
	return j, f.shapes(&j)
}

func (f newFlags) zoomRange() (z tiles.Zooms, auto bool, err error) {
	if f.zooms == "" {
		return z, true, nil
	}
	low, high, _ := strings.Cut(strings.ReplaceAll(f.zooms, "-", ","), ",")
	var errLow, errHigh error
	z.Min, errLow = strconv.Atoi(strings.TrimSpace(low))
	z.Max, errHigh = strconv.Atoi(strings.TrimSpace(high))
	if errLow != nil || errHigh != nil {
		return z, false, wrongUse(fmt.Sprintf("--zooms %q wants two numbers", f.zooms), "such as --zooms 14,21")
	}
	return z, false, z.Check()
}

func (f newFlags) shapes(j *job.Job) error {
	if (f.around == "") != (f.radius == "") {
		return wrongUse("a circle needs both --around and --radius", "such as --around 40.0123,-105.0456 --radius 300ft")
	}
	if (f.along == "") != (f.width == "") {
		return wrongUse("a route needs both --along and --width", "such as --along route.geojson --width 60ft")
	}
	if f.around != "" {
		lat, lon, err := places.Parse(f.around)
		if err != nil {
			return fmt.Errorf("--around: %w", err)
		}
		if err := f.meant("--around", lat, lon); err != nil {
			return err
		}
		radius, err := measure.ParseDistance(f.radius)
		if err != nil {
			return fmt.Errorf("--radius: %w", err)
		}
		j.Around = []job.Around{{Lat: lat, Lon: lon, Radius: radius}}
	}
	if f.box != "" {
		b, err := f.parseBox()
		if err != nil {
			return err
		}
		j.Boxes = []job.Box{b}
	}
	if f.along != "" {
		width, err := measure.ParseDistance(f.width)
		if err != nil {
			return fmt.Errorf("--width: %w", err)
		}
		j.Along = []job.Along{{File: f.along, Width: width, Form: f.form}}
	}
	if f.form.Stated() {
		for _, name := range j.Area {
			j.Within = append(j.Within, job.Within{File: name, Form: f.form})
		}
		j.Area = nil
	}
	return nil
}

// meant asks whether a place is the one that was meant, where it looks as if a
// minus was left away or longitude was written first.
func (f newFlags) meant(flag string, lat, lon float64) error {
	said := fmt.Sprintf("%s: %v, %v", flag, lat, lon)
	if f.draft.Units == "us" && !f.yes {
		if likelyLat, likelyLon, ok := places.MeantInUS(lat, lon); ok {
			why := " lies outside the United States"
			if lat < -90 || lat > 90 {
				why = " is no place: a latitude is between -90 and 90"
			}
			return wrongUse(said+why, fmt.Sprintf("did you mean %v,%v? --yes takes it as written", likelyLat, likelyLon))
		}
	}
	if (lat < -90 || lat > 90) && lon >= -90 && lon <= 90 {
		return wrongUse(said+": a latitude is between -90 and 90",
			fmt.Sprintf("latitude comes first: did you mean %v,%v?", lon, lat))
	}
	return nil
}

func (f newFlags) parseBox() (b job.Box, err error) {
	corners := strings.Split(f.box, ";")
	if parts := strings.Split(f.box, ","); len(corners) != 2 && len(parts) == 4 {
		corners = []string{parts[0] + "," + parts[1], parts[2] + "," + parts[3]}
	}
	if len(corners) != 2 {
		return b, wrongUse(fmt.Sprintf("--box %q wants two corners", f.box), "such as --box 40.01,-105.02,40.02,-105.01")
	}
	for i, into := range [][2]*float64{{&b.FromLat, &b.FromLon}, {&b.ToLat, &b.ToLon}} {
		if *into[0], *into[1], err = places.Parse(corners[i]); err != nil {
			return b, fmt.Errorf("--box: %w", err)
		}
		if err := f.meant("--box", *into[0], *into[1]); err != nil {
			return b, err
		}
	}
	return b, nil
}
