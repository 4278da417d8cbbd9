package source

import (
	"encoding/hex"
	"maps"
	"net/url"
	"regexp"
	"slices"
	"strings"
)

// checkURL says what is wrong with the address and what belongs to it.
func (c *checker) checkURL() {
	names, err := placeholders(c.URL)
	if err != nil {
		c.add("url", "%v", err)
		return
	}
	if c.Asked() {
		for _, n := range names {
			c.unless(n == "key", "url", "{%s} has no place in it: kind %s wants the address of the service or its document; only {key} may stand in it", n, c.Kind)
		}
	} else {
		c.checkPlaceholders("url", names)
		c.checkSubdomains(names)
	}
	c.checkKey(names)
	c.checkAuthority()
}

// checkFile looks at the path of a local source; whether it is there is seen
// when it is opened.
func (c *checker) checkFile() {
	if c.File == "" {
		return
	}
	names, err := placeholders(c.File)
	switch {
	case err != nil && c.Kind == KindFolder:
		c.add("file", "%v", err)
	case c.Kind == KindFolder:
		c.checkPlaceholders("file", names)
		_, after, _ := strings.Cut(c.File, "{")
		c.unless(!slices.Contains(strings.Split(strings.ReplaceAll(after, `\`, "/"), "/"), ".."), "file",
			"must not have .. after a placeholder")
	}
}

// placeholders lists the names between braces.
func placeholders(template string) (names []string, err error) {
	_, err = Expand(template, func(name string) (string, error) {
		names = append(names, name)
		return "", nil
	})
	return names, err
}

func (c *checker) checkPlaceholders(key string, names []string) {
	has := func(name string) bool { return slices.Contains(names, name) }
	known := []string{"z", "x", "y", "-y", "q", "s", "key"}
	if key == "file" {
		known = known[:5]
	}
	for _, n := range names {
		c.unless(slices.Contains(known, n), key, "{%s} is not a known placeholder: {%s}", n, strings.Join(known, "} {"))
	}
	whole := has("q") || has("z") && has("x") && (has("y") || has("-y"))
	c.unless(whole, key, "must have {z}, {x} and {y} (or {-y}), or {q}")
	c.unless(!has("y") || !has("-y"), key, "has both {y} and {-y}: keep one")
	c.unless(c.Kind != KindTMS || !has("-y"), key, "kind tms already counts rows from the south: write {y}")
}

func (c *checker) checkKey(names []string) {
	wants := slices.Contains(names, "key")
	c.unless(!wants || c.KeyEnv != "", "key_env", "is missing: url has {key}; name the environment variable that holds it")
	c.unless(wants || c.KeyEnv == "", "key_env", "is set but url has no {key}")
	if c.KeyEnv != "" {
		ok := regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_]*$`).MatchString(c.KeyEnv)
		// The value is not repeated: it may be a key put in the wrong place.
		c.unless(ok, "key_env", "must be the name of an environment variable (letters, digits, _), not the key itself")
	}
}

func (c *checker) checkSubdomains(names []string) {
	wants := slices.Contains(names, "s")
	c.unless(!wants || len(c.Subdomains) > 0, "subdomains", `is missing: url has {s}; such as ["a", "b"]`)
	c.unless(wants || len(c.Subdomains) == 0, "subdomains", "is set but url has no {s}")
	label := regexp.MustCompile(`^[A-Za-z0-9]([A-Za-z0-9.-]{0,60}[A-Za-z0-9])?$`)
	for _, sub := range c.Subdomains {
		c.unless(label.MatchString(sub), "subdomains", "%q cannot be part of a host name: letters, digits, dots, dashes", sub)
	}
}

// checkAuthority looks at scheme and host. The host must be known before a
// key or a tile is: only {s} may stand in it.
func (c *checker) checkAuthority() {
	scheme, rest, found := strings.Cut(c.URL, "://")
	if scheme = strings.ToLower(scheme); !found || scheme != "http" && scheme != "https" {
		c.add("url", "must begin with https:// or http://")
		return
	}
	authority := rest
	if end := strings.IndexAny(rest, "/?#\\"); end >= 0 {
		authority = rest[:end]
	}
	switch {
	case strings.ContainsAny(authority, "@"):
		c.add("url", "must not carry a user or a password before the host: use key_env and {key}")
		return
	case strings.Contains(strings.ReplaceAll(authority, "{s}", ""), "{"):
		c.add("url", "only {s} may stand in the host name")
		return
	case strings.Contains(c.URL, "#"):
		c.add("url", "must not have a #: what follows it is never sent")
		return
	}
	hosts, err := hostsOf(c.URL, c.Subdomains)
	if err != nil {
		c.add("url", "%v", err)
		return
	}
	for _, h := range hosts {
		name := (&url.URL{Host: h}).Hostname()
		c.unless(strings.Trim(name, ".") != "", "url", "has no host")
		c.unless(c.Kind != KindPractice || loopback(h), "url",
			"a practice source is drawn on this machine: host %q is not loopback (127.0.0.1, ::1, localhost)", h)
	}
}

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
		"url": e.URL != "", "key_env": e.KeyEnv != "", "subdomains": len(e.Subdomains) > 0, "layer": e.Layer != "",
		"style":  e.Style != "",
		"format": e.Format != "", "matrix_set": e.MatrixSet != "", "version": e.Version != "", "crs": e.CRS != "",
		"metatile": e.Metatile != 0, "file": e.File != "", "redirect_hosts": len(e.RedirectHosts) > 0,
		"files": len(e.Files) > 0, "bands": len(e.Bands) > 0, "scale": len(e.Scale) > 0, "nodata": e.NoData != nil,
		"background": e.Background != "", "draw": len(e.Draw) > 0,
	}
}

// checkService looks at what is asked of a service.
func (c *checker) checkService() {
	c.unless(c.Format == "" || c.Vector() || GoodFormat(c.Format), "format",
		"%q is not possible: a media type of an image, such as image/png or image/jpeg", c.Format)
	c.unless(slices.Contains([]string{"", "1.3.0", "1.1.1"}, c.Version), "version",
		`%q is not possible: "1.3.0" or "1.1.1"`, c.Version)
	c.unless(slices.Contains([]int{0, 1, 2, 4, 8}, c.Metatile), "metatile",
		"%d is not possible: 1, 2, 4 or 8 tiles along a side", c.Metatile)
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
	return slices.Contains([]string{"image/png", "image/png8", "image/png24", "image/png32", "image/jpeg",
		"image/jpg", "image/jpgpng", "image/webp",
		"image/vnd.jpeg-png", "image/vnd.jpeg-png8"}, strings.TrimSpace(kind))
}

// checkCRS lets pictures in degrees through only where they are as good as
// Web Mercator: see [Bow]. 900913, 102100 and 102113 are old names of 3857.
func (c *checker) checkCRS() {
	if c.Kind == KindRaster {
		return
	}
	known := []string{"", WebMercator, "EPSG:900913", "EPSG:102100", "EPSG:102113", "EPSG:4326", "CRS:84"}
	if !slices.Contains(known, c.CRS) {
		c.add("crs", "%q is not possible: %s", c.CRS, strings.Join(known[1:], ", "))
		return
	}
	c.unless(c.CRS != "CRS:84" || c.Version != "1.1.1", "crs",
		`version 1.1.1 has no CRS:84: write "EPSG:4326", which means the same there`)
	if !degrees(c.CRS) {
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
