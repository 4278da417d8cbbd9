package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"groundsheet/pack/office"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/fault"
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
and appends what it learned to the sources file.

It states no terms. Nothing is packed before you have read the provider's terms
and stated them in the file. A key in the address is never written: it is kept
in the environment.`,
		Example: `  groundsheet source add https://maps.county.example/wmts/WMTSCapabilities.xml --layer ortho
  groundsheet source add 'https://tiles.county.example/{z}/{x}/{y}.jpg' --zooms 8,21 --name county-ortho
  groundsheet source add ortho.mbtiles
  groundsheet source add flights/2025 --name ortho-2025`,
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
	where := args[0]
	path, err := a.sourcesPath(f.to)
	if err != nil {
		return err
	}
	draft, hidden, err := f.draft(where)
	if err == nil {
		draft, err = f.pictures(draft, args)
	}
	if err != nil {
		return err
	}
	offers, err := discover.Describe(ctx, draft, discover.Options{Contact: f.contact})
	if err != nil {
		return err
	}
	if len(offers) != 1 || !offers[0].Whole {
		return a.listOffers(offers)
	}
	offer := offers[0]
	offer.Source.Name = f.name
	if f.name == "" {
		offer.Source.Name = nameFor(offer, where)
	}
	if err := source.Append(path, offer.Source, offer.Notes); err != nil {
		return err
	}
	a.sayAdded(path, offer, hidden)
	return nil
}

// sourcesPath is the file to append to.
func (a *app) sourcesPath(to string) (string, error) {
	switch {
	case to != "":
		return to, nil
	case a.sourcesFile != "":
		return a.sourcesFile, nil
	}
	path, err := office.UserSources()
	if err != nil {
		return "", wrongUse(fmt.Sprintf("there is no user config folder (%v)", err), "name a file with --to FILE")
	}
	return path, nil
}

// draft is what the call states; hidden says that a key was taken out of the
// address. The key goes into the environment of this run alone.
func (f addFlags) draft(where string) (draft source.Source, hidden bool, err error) {
	draft = source.Source{Layer: f.layer, Format: f.format, MatrixSet: f.matrixSet, KeyEnv: f.keyEnv}
	if f.zooms != "" {
		if draft.Zooms, _, err = (newFlags{zooms: f.zooms}).zoomRange(); err != nil {
			return draft, false, err
		}
	}
	if !strings.Contains(where, "://") {
		draft.File, err = filepath.Abs(where)
		return draft, false, err
	}
	var key string
	if draft.URL, key, err = source.HideKey(where); err != nil {
		return draft, false, wrongUse(err.Error(), "see groundsheet source add --help")
	}
	if key != "" {
		if draft.KeyEnv, err = keepKey(draft.URL, f.keyEnv, key); err != nil {
			return draft, false, err
		}
	}
	if strings.Contains(draft.URL, "{key}") && draft.KeyEnv == "" {
		return draft, false, wrongUse("the address has {key}",
			"name the environment variable that holds it: --key-env COUNTY_KEY")
	}
	return draft, key != "", nil
}

// keepKey puts a key where this run finds it: in an environment variable that is
// not set to anything else.
func keepKey(address, name, key string) (string, error) {
	if name == "" {
		u, err := url.Parse(address)
		if err != nil {
			u = &url.URL{Host: "source"}
		}
		name = strings.ToUpper(strings.ReplaceAll(slug(u.Hostname()), "-", "_")) + "_KEY"
		if name[0] >= '0' && name[0] <= '9' {
			name = "MAP_" + name
		}
	}
	if old, is := os.LookupEnv(name); is && old != "" && old != key {
		return "", wrongUse("the environment variable "+name+" is set to another key than the one in the address",
			"write {key} in the address, or name another variable with --key-env")
	}
	return name, os.Setenv(name, key)
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

// nameFor makes a name from the layer, the title, the file or the host.
func nameFor(o discover.Offer, where string) string {
	texts := []string{o.Source.Layer, o.Title}
	if o.Source.File != "" || len(o.Source.Files) > 0 {
		before, _, _ := strings.Cut(where, "{")
		base := filepath.Base(strings.TrimRight(before, `/\`))
		texts = []string{strings.TrimSuffix(base, filepath.Ext(base))}
	}
	if u, err := url.Parse(o.Source.URL); err == nil {
		texts = append(texts, u.Hostname())
	}
	i := slices.IndexFunc(texts, func(t string) bool { return slug(t) != "" && slug(t) != source.KindPractice })
	if i < 0 {
		return "map"
	}
	return slug(texts[i])
}

var others = regexp.MustCompile(`[^a-z0-9]+`)

// slug keeps letters and digits, everything else becomes single dashes.
func slug(text string) string {
	s := strings.TrimLeft(others.ReplaceAllString(strings.ToLower(text), "-"), "-")
	return strings.TrimRight(s[:min(len(s), 50)], "-")
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
	if s.Captured == "" {
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
		a.say("%s: %s, zooms %d to %d, %s", s.Name, s.Kind, s.Zooms.Min, s.Zooms.Max, termsWords(s))
	}
	return nil
}

func termsWords(s source.Source) string {
	if refused, ok := errors.AsType[*fault.Fault](s.Refusal()); ok {
		return "may not be packed: " + refused.Detail
	}
	return strings.Join(append([]string{"offline " + s.Terms.Offline}, limits(s)...), ", ")
}
