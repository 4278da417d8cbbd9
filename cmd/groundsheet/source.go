package main

import (
	"cmp"
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"groundsheet/pack/office"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/source"
)

type addFlags struct {
	name, layer, format, matrixSet, zooms, keyEnv, contact, to string
	rasterFlags
}

func (a *app) sourceAddCommand() *cobra.Command {
	var f addFlags
	c := &cobra.Command{
		Use: "add URL|FILE…", Short: "Ask a map service what it is and write it into the sources file",
		Long: `add asks an address what it is (a TileJSON document, a WMTS or WMS service, an OGC
API with tiles, or a tile's own address with {z} {x} {y}), or looks at an MBTiles
file, a folder of z/x/y files, or pictures of your own (GeoTIFF, JPEG 2000 and
others: one, several, a folder, a VRT, or a GeoTIFF at an address, read by ranges),
or files of streets, parcels, water, buildings and addresses that are drawn into a
quiet map (shapefile, GeoPackage, GeoJSON, DXF and others; ROLE=FILE says what a file
is), and appends what it learned to the sources file.

It states no terms. Nothing is packed before you have read the provider's terms
and stated them in the file. A key in the address is never written: it is kept
in the environment.`,
		Example: `  groundsheet source add https://maps.county.example/wmts/WMTSCapabilities.xml --layer ortho
  groundsheet source add 'https://tiles.county.example/{z}/{x}/{y}.jpg' --zooms 8,21 --name county-ortho
  groundsheet source add ortho.mbtiles
  groundsheet source add flights/2025 --name ortho-2025
  groundsheet source add street=roads.shp parcels.gpkg address=points.csv --name county`,
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 || len(args) > 1 && strings.Contains(strings.Join(args, ""), "://") {
				return wrongUse("one address, file or folder is wanted, or several pictures",
					"such as: groundsheet source add https://maps.county.example/wms")
			}
			return a.runSourceAdd(c.Context(), args, f)
		},
	}
	fl := c.Flags()
	fl.StringVar(&f.name, "name", "", "name of the source (else made from the layer or the host)")
	fl.StringVar(&f.layer, "layer", "", "layer or collection of the service")
	fl.StringVar(&f.format, "format", "", "media type to ask for, such as image/jpeg (else the first that can be used)")
	fl.StringVar(&f.matrixSet, "matrix-set", "", "tile matrix set (else the one with the most zooms)")
	fl.StringVar(&f.zooms, "zooms", "", "shallowest and deepest zoom, such as 8,21 (else what the service says)")
	fl.StringVar(&f.keyEnv, "key-env", "", "environment variable that holds the key for {key}")
	f.rasterFlags.register(c)
	fl.StringVar(&f.contact, "contact", "", "where the provider can write to; sent with the requests")
	fl.StringVar(&f.to, "to", "", "sources file to append to (else --sources, else in the user config folder)")
	return c
}

func (a *app) runSourceAdd(ctx context.Context, args []string, f addFlags) error {
	path, err := office.Office{SourcesFile: cmp.Or(f.to, a.sourcesFile)}.SourcesPath("")
	if err != nil {
		return err
	}
	draft, err := f.draft(args[0])
	if err == nil {
		draft.Draw, err = office.DrawOf(args, f.crs)
	}
	if err == nil && draft.Draw == nil {
		draft.CRS = f.crs
		draft.Pictures, err = f.pictures(args)
	}
	if err != nil {
		return err
	}
	offers, hidden, err := draft.Offers(ctx)
	if err != nil {
		return err
	}
	if len(offers) != 1 || !offers[0].Whole {
		return a.listOffers(offers)
	}
	offer := offers[0]
	offer.Source.Name = f.name
	if f.name == "" {
		offer.Source.Name = office.NameFor(offer, args[0])
	}
	if err := source.Append(path, offer.Source, offer.Notes); err != nil {
		return err
	}
	a.sayAdded(path, offer, hidden)
	return nil
}

// draft is what the call states.
func (f addFlags) draft(where string) (d office.NewSource, err error) {
	d = office.NewSource{Where: where, Layer: f.layer, Format: f.format, MatrixSet: f.matrixSet, KeyEnv: f.keyEnv,
		Contact: f.contact}
	if f.zooms != "" {
		d.Zooms, _, err = (newFlags{zooms: f.zooms}).zoomRange()
	}
	return d, err
}

// listOffers lists several offers; the call has to name one.
func (a *app) listOffers(offers []discover.Offer) error {
	if len(offers) == 0 {
		return wrongUse("it has no layer that can be a base map", "ask the provider")
	}
	for _, o := range offers {
		a.say("%s  %s", cmp.Or(o.Source.File, o.Source.Layer), o.Title)
		for _, n := range o.Notes {
			a.say("    %s", n)
		}
	}
	if offers[0].Source.File != "" {
		return wrongUse("nothing in a folder tells which end its rows are counted from",
			"give one of these paths instead, in quotes; a wrong one shows the wrong ground")
	}
	return wrongUse(fmt.Sprintf("it has %d layers", len(offers)), "choose one: --layer "+offers[0].Source.Layer)
}

// sayAdded says what was written and what is still missing.
func (a *app) sayAdded(path string, o discover.Offer, hidden bool) {
	s := o.Source
	a.say("added %s to %s: kind %s, zooms %d to %d, %d-pixel tiles", s.Name, path, s.Kind, s.Zooms.Min,
		s.Zooms.Max, s.TileSize)
	for _, n := range o.Notes {
		a.say("  note: %s", n)
	}
	if hidden {
		a.say("  the key was not written: {key} stands in its place; set the environment variable %s to it before you fetch", s.KeyEnv)
	}
	if s.Attribution == "" {
		a.say("  still missing: attribution; the service names none")
	}
	if s.Captured == "" && len(s.Draw) > 0 {
		a.say("  still missing: captured, of when the files are; unknown stays unknown")
	} else if s.Captured == "" {
		a.say("  still missing: captured, when the imagery was taken; unknown stays unknown")
	}
	a.say("  still missing: its terms. Read them, then state offline and reference in [%s.terms]; nothing is packed before", s.Name)
	place := ""
	if s.Bounds == nil {
		place = " --at LAT,LON" // there is no way to know where it has imagery
	}
	a.say("next: groundsheet source try %s%s", s.Name, place)
}

func (a *app) sourceCommand() *cobra.Command {
	c := &cobra.Command{Use: "source", Short: "Add, try and list the operator's sources"}
	list := &cobra.Command{
		Use: "list [DIR]", Short: "List the sources that are known, and whether their terms allow packing",
		Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			return a.runSourceList(strings.Join(args, ""))
		},
	}
	c.AddCommand(list, a.sourceAddCommand(), a.sourceTryCommand())
	return c
}

func (a *app) runSourceList(dir string) error {
	sources, err := a.office().Sources(dir)
	if err != nil {
		return err
	}
	for _, name := range sources.Names() {
		s, err := sources.Find(name)
		if err != nil {
			return err
		}
		a.say("%s: %s, zooms %d to %d, %s", s.Name, s.Kind, s.Zooms.Min, s.Zooms.Max, s.TermsWords())
	}
	return nil
}
