package source

import (
	"encoding/hex"
	"maps"
	"regexp"
	"slices"
	"strings"
)

// checkKeys refuses keys that make no sense for the kind and asks for those
// that it needs.
func (e entry) checkKeys(wrong *problems) {
	rule, stated := ruleOf(e.Kind), e.stated()
	for _, key := range slices.Sorted(maps.Keys(stated)) {
		wrong.unless(!stated[key] || slices.Contains(rule.keys, key), key, "makes no sense for kind %s", e.Kind)
		wrong.unless(stated[key] || rule.needs[key] == "", key, "is missing: %s", rule.needs[key])
	}
}

// stated reports which of the keys that not every kind takes the file has.
func (e entry) stated() map[string]bool {
	return map[string]bool{
		"url": e.URL != "", "key_env": e.KeyEnv != "", "subdomains": len(e.Subdomains) > 0, "layer": e.Layer != "", "style": e.Style != "",
		"format": e.Format != "", "matrix_set": e.MatrixSet != "", "version": e.Version != "", "crs": e.CRS != "",
		"metatile": e.Metatile != 0, "file": e.File != "", "redirect_hosts": len(e.RedirectHosts) > 0,
	}
}

// checkService looks at what is asked of a service.
func (c *checker) checkService() {
	c.unless(c.Format == "" || GoodFormat(c.Format), "format", "%q is not possible: a media type of an image, such as image/png or image/jpeg", c.Format)
	c.unless(slices.Contains([]string{"", "1.3.0", "1.1.1"}, c.Version), "version", `%q is not possible: "1.3.0" or "1.1.1"`, c.Version)
	c.unless(slices.Contains([]int{0, 1, 2, 4, 8}, c.Metatile), "metatile", "%d is not possible: 1, 2, 4 or 8 tiles along a side", c.Metatile)
	c.checkCRS()
	host := regexp.MustCompile(`^[A-Za-z0-9]([A-Za-z0-9.-]{0,251}[A-Za-z0-9])?(:[0-9]{1,5})?$`)
	for _, h := range c.RedirectHosts {
		c.unless(host.MatchString(h), "redirect_hosts", "%q is no host name, such as tiles.county.example", h)
	}
}

// GoodFormat reports whether a media type may be asked for: an image that can
// be a tile, also under the names that some services give to it.
func GoodFormat(media string) bool {
	kind, _, _ := strings.Cut(strings.ToLower(strings.TrimSpace(media)), ";")
	return slices.Contains([]string{"image/png", "image/png8", "image/png24", "image/png32", "image/jpeg", "image/jpg", "image/jpgpng", "image/webp",
		"image/vnd.jpeg-png", "image/vnd.jpeg-png8"}, strings.TrimSpace(kind))
}

// checkCRS lets pictures in degrees through only where they are as good as
// Web Mercator: see [Bow]. 900913, 102100 and 102113 are old names of 3857.
func (c *checker) checkCRS() {
	known := []string{"", WebMercator, "EPSG:900913", "EPSG:102100", "EPSG:102113", "EPSG:4326", "CRS:84"}
	if !slices.Contains(known, c.CRS) {
		c.add("crs", "%q is not possible: %s", c.CRS, strings.Join(known[1:], ", "))
		return
	}
	c.unless(c.CRS != "CRS:84" || c.Version != "1.1.1", "crs", `version 1.1.1 has no CRS:84: write "EPSG:4326", which means the same there`)
	if !c.degrees() {
		return
	}
	from := max(c.Zooms.Min, shallowestInDegrees)
	for Bow(from, c.Metatile, c.TileSize) > mostBow {
		from++
	}
	c.unless(c.Zooms.Min >= from, "crs", "pictures in %s are off Web Mercator by more than a tenth of a pixel above zoom %d: set zooms from %d on, or crs = %q",
		c.CRS, from, from, WebMercator)
}

// shallowestInDegrees is where pictures in degrees may begin at all.
const shallowestInDegrees = 12

// placeholderHashes reads SHA-256 sums in hex.
func placeholderHashes(texts []string, wrong *problems) (out [][32]byte) {
	for _, text := range texts {
		sum, err := hex.DecodeString(strings.TrimSpace(text))
		if err != nil || len(sum) != 32 {
			wrong.add("placeholders", "%q is no SHA-256 sum: 64 hex digits", text)
			continue
		}
		out = append(out, [32]byte(sum))
	}
	return out
}
