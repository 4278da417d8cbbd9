package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
)

// defaultZooms are taken as far as the source has them: from finding the
// street to placing a six-inch reading (z 21 is 2.2 in a pixel at 40°).
var defaultZooms = tiles.Zooms{Min: 14, Max: 21}

type newFlags struct {
	name, number, around, radius, along, width, margin, units, fitIn, source, oneCall string
	ticket, validUntil                                                                string
	areas                                                                             []string
	zooms                                                                             []int
	invented                                                                          bool
}

func (a *app) newCommand() *cobra.Command {
	var f newFlags
	c := &cobra.Command{
		Use:   "new DIR --name NAME (--area FILE… | --around LAT,LON --radius 300ft | --along FILE --width 60ft)",
		Short: "Make a job folder from a dig area, a circle or a route",
		Example: `  groundsheet new site --name "Cutbank lift station" --area dig-area.geojson --source county-ortho
  groundsheet new site --name "Valve 12" --around 40.0123,-105.0456 --radius 200ft`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return &wrongUse{"one new folder is wanted", "such as: groundsheet new site --name NAME --area FILE"}
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error { return a.runNew(args[0], f) },
	}
	fl := c.Flags()
	fl.StringVar(&f.name, "name", "", "name of the job (needed)")
	fl.StringVar(&f.number, "number", "", "the office's number of the job")
	fl.StringArrayVar(&f.areas, "area", nil, "GeoJSON file with the dig area; may be given again")
	fl.StringVar(&f.around, "around", "", "middle of a circle, LAT,LON in degrees WGS 84")
	fl.StringVar(&f.radius, "radius", "", "radius of the circle, such as 300ft")
	fl.StringVar(&f.along, "along", "", "GeoJSON file with a route")
	fl.StringVar(&f.width, "width", "", "whole width of the route, such as 60ft")
	fl.StringVar(&f.margin, "margin", "50ft", "ground round the area that is packed too")
	fl.StringVar(&f.units, "units", "us", "us or metric: how things are shown")
	fl.StringVar(&f.source, "source", "", "source of the base map, as named in sources.toml")
	fl.IntSliceVar(&f.zooms, "zooms", nil, "shallowest and deepest zoom, such as 14,21 (else as deep as 21 where the source has it)")
	fl.StringVar(&f.fitIn, "fit-in", "", "what the pack may weigh, such as 2GB")
	fl.StringVar(&f.oneCall, "one-call", "", "the local one-call number, shown with the cautions")
	fl.StringVar(&f.ticket, "ticket", "", "number of the one-call ticket")
	fl.StringVar(&f.validUntil, "valid-until", "", "last valid day of the ticket, YYYY-MM-DD")
	fl.BoolVar(&f.invented, "invented", false, "a practice job; said on every screen")
	return c
}

func (a *app) runNew(dir string, f newFlags) error {
	book, err := a.book("")
	if err != nil {
		return err
	}
	src, err := chooseSource(book, f.source)
	if err != nil {
		return err
	}
	d, err := f.draft(src)
	if err != nil {
		return err
	}
	job, err := pack.New(dir, d)
	if err != nil {
		return err
	}
	b := job.Bases[0]
	a.say("made %s for %q: base map %s, zooms %d to %d, margin %s", dir, job.Name, b.Source, b.Zooms.Min, b.Zooms.Max, job.Margin.In(job.Units))
	if src.Kind == source.KindPractice {
		a.say("%s is invented imagery, for practice only: before real work set another source in %s/job.toml", src.Name, dir)
	}
	a.say("next: groundsheet plan %s", dir)
	return nil
}

// chooseSource takes the named source, or the only one that the operator has.
// The practice source is taken when there is no other.
func chooseSource(book source.Book, name string) (source.Source, error) {
	if name != "" {
		return book.Find(name)
	}
	names := slices.DeleteFunc(book.Names(), func(n string) bool { return n == source.KindPractice })
	switch len(names) {
	case 0:
		return book.Find(source.KindPractice)
	case 1:
		return book.Find(names[0])
	}
	return source.Source{}, &wrongUse{"there are several sources: " + strings.Join(names, ", "), "name one with --source"}
}

func (f newFlags) draft(src source.Source) (pack.Draft, error) {
	d := pack.Draft{Name: f.name, Number: f.number, AreaFiles: f.areas, Units: f.units, Source: src.Name, Invented: f.invented, OneCall: f.oneCall}
	var err error
	if d.Margin, err = measure.ParseDistance(f.margin); err != nil {
		return d, fmt.Errorf("--margin: %w", err)
	}
	if f.fitIn != "" {
		if d.FitIn, err = measure.ParseSize(f.fitIn); err != nil {
			return d, fmt.Errorf("--fit-in: %w", err)
		}
	}
	if d.Zooms, err = f.zoomRange(src); err != nil {
		return d, err
	}
	if f.ticket != "" || f.validUntil != "" {
		if _, err := time.Parse(time.DateOnly, f.validUntil); f.validUntil != "" && err != nil {
			return d, &wrongUse{fmt.Sprintf("--valid-until %q is no day", f.validUntil), "write YYYY-MM-DD"}
		}
		d.Ticket = &pack.Ticket{Number: f.ticket, ValidUntil: f.validUntil}
	}
	return d, f.shapes(&d)
}

func (f newFlags) zoomRange(src source.Source) (tiles.Zooms, error) {
	switch len(f.zooms) {
	case 0:
		z := tiles.Zooms{Min: max(defaultZooms.Min, src.Zooms.Min), Max: min(defaultZooms.Max, src.Zooms.Max)}
		z.Min = min(z.Min, z.Max)
		return z, nil
	case 2:
		z := tiles.Zooms{Min: f.zooms[0], Max: f.zooms[1]}
		return z, z.Check()
	}
	return tiles.Zooms{}, &wrongUse{"--zooms wants two numbers", "such as --zooms 14,21"}
}

func (f newFlags) shapes(d *pack.Draft) error {
	if (f.around == "") != (f.radius == "") {
		return &wrongUse{"a circle needs both --around and --radius", "such as --around 40.0123,-105.0456 --radius 300ft"}
	}
	if (f.along == "") != (f.width == "") {
		return &wrongUse{"a route needs both --along and --width", "such as --along route.geojson --width 60ft"}
	}
	if f.around != "" {
		lat, lon, err := measure.ParsePlace(f.around)
		if err != nil {
			return fmt.Errorf("--around: %w", err)
		}
		radius, err := measure.ParseDistance(f.radius)
		if err != nil {
			return fmt.Errorf("--radius: %w", err)
		}
		d.Around = &pack.Around{Lat: lat, Lon: lon, Radius: radius}
	}
	if f.along != "" {
		width, err := measure.ParseDistance(f.width)
		if err != nil {
			return fmt.Errorf("--width: %w", err)
		}
		d.Along = &pack.Along{File: f.along, Width: width}
	}
	return nil
}
