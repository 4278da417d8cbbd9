package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"groundsheet/tiles/source"
)

// rasterFlags say how pictures of the operator's own are read.
type rasterFlags struct{ crs, bands, scale, nodata, background string }

func (f *rasterFlags) register(c *cobra.Command) {
	fl := c.Flags()
	fl.StringVar(&f.crs, "crs", "", "pictures: coordinate system of files that name none, such as EPSG:2229")
	fl.StringVar(&f.bands, "bands", "", "pictures: which bands are red, green and blue, such as 1,2,3")
	fl.StringVar(&f.scale, "scale", "", "pictures: values that become black and white, such as 0,4095 (else proposed from the file's statistics)")
	fl.StringVar(&f.nodata, "nodata", "", "pictures: the value that means that there is no picture, such as 0")
	fl.StringVar(&f.background, "background", "", "pictures: color where a tile has none, such as #ffffff (else transparent)")
}

// pictures is what is stated of pictures; several arguments are several of them.
func (f rasterFlags) pictures(args []string) (r source.Raster, err error) {
	r.Background = f.background
	wrong := func(flag, text string) error {
		return wrongUse(fmt.Sprintf("--%s %s is not understood", flag, text), "see groundsheet source add --help")
	}
	for _, text := range listed(f.bands) {
		n, err := strconv.Atoi(text)
		if err != nil {
			return r, wrong("bands", f.bands)
		}
		r.Bands = append(r.Bands, n)
	}
	for _, text := range listed(f.scale) {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return r, wrong("scale", f.scale)
		}
		r.Scale = append(r.Scale, v)
	}
	if f.nodata != "" {
		v, err := strconv.ParseFloat(f.nodata, 64)
		if err != nil {
			return r, wrong("nodata", f.nodata)
		}
		r.NoData = &v
	}
	if len(args) > 1 {
		r.Files = args
	}
	return r, nil
}

// listed splits at commas.
func listed(text string) []string {
	if text == "" {
		return nil
	}
	parts := strings.Split(text, ",")
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	return parts
}
