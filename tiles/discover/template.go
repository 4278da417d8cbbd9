package discover

import (
	"net/url"
	"regexp"
	"slices"
	"strings"

	"groundsheet/tiles/source"
)

// ourTemplate makes one of our templates from that of a service, whose document
// came from an address. ours maps its variables, by their names in lower case,
// to our placeholders; each must occur. text gives the value of others, false for
// an unknown one.
func ourTemplate(src source.Source, at *url.URL, template string, ours map[string]string,
	text func(name string) (string, bool)) (string, error) {
	seen := map[string]bool{}
	replace := func(part string, escape func(string) string) (string, error) {
		return source.Expand(part, func(name string) (string, error) {
			lower := strings.ToLower(name)
			if seen[lower] = true; name == "key" {
				return "{key}", nil
			}
			if own, ok := ours[lower]; ok {
				return own, nil
			}
			value, ok := text(name)
			if !ok {
				return "", unfit("tell the provider, or write the address as kind xyz",
					"its address %s has {%s}, and the document does not say what that may be", oneLine(template, 200),
					oneLine(name, 40))
			}
			return escape(value), nil
		})
	}
	path, query, hasQuery := strings.Cut(src.TakeKey(template), "?")
	out, err := replace(path, url.PathEscape)
	if err == nil && hasQuery {
		query, err = replace(query, escape)
		out += "?" + query
	}
	if err != nil {
		return "", err
	}
	for name := range ours {
		if !seen[name] {
			return "", unfit("ask the provider", "its address %s lacks the place of a tile", oneLine(template, 200))
		}
	}
	return allowed(src, at, out)
}

// escape is for values in a query: a space as %20, which every service reads.
func escape(s string) string { return strings.ReplaceAll(url.QueryEscape(s), "+", "%20") }

var variable = regexp.MustCompile(`\{[^{}]*\}`)

// allowed checks where a template leads to and returns it. Services often write
// http although they were asked by https: on the same host that is corrected,
// never the other way.
func allowed(src source.Source, from *url.URL, template string) (string, error) {
	_, rest, _ := strings.Cut(template, "://")
	if i := strings.IndexAny(rest, "{/?#\\"); i >= 0 && rest[i] == '{' {
		return "", unfit("ask the provider for an address with a plain host name",
			"its address %s has a variable in the host name", oneLine(template, 200))
	}
	for _, v := range variable.FindAllString(template, -1) {
		if !slices.Contains([]string{"{z}", "{x}", "{y}", "{-y}", "{matrix}", "{bbox}", "{pixels}", "{key}"}, v) {
			return "", unfit("tell the provider", "its address %s has %s, which is not known", oneLine(template, 200),
				oneLine(v, 40))
		}
	}
	to, err := url.Parse(variable.ReplaceAllString(template, "0"))
	if err != nil || to.Host == "" {
		return "", unfit("tell the provider: such addresses have to be absolute", "its address %s cannot be used",
			oneLine(template, 200))
	}
	if from.Scheme == "https" && to.Scheme == "http" && strings.EqualFold(from.Hostname(), to.Hostname()) &&
		(to.Port() == "" || to.Port() == "80") {
		template = "https://" + from.Host + template[strings.Index(template, "://")+3+len(to.Host):]
		to.Scheme, to.Host = "https", from.Host
	}
	if strings.Contains(template, "{key}") {
		to.RawQuery += "{key}" // so that AllowsHost sees it when another host would get it
	}
	return template, src.AllowsHost(from, to)
}

// absolute reads an address in a document, which may be relative to it and may
// have variables in braces.
func absolute(from *url.URL, address string) (string, error) {
	const mark = "zz7zz" // plain letters and digits survive every way of escaping
	names := variable.FindAllString(address, -1)
	u, err := from.Parse(variable.ReplaceAllString(strings.ReplaceAll(address, mark, ""), mark))
	if err != nil {
		return "", unfit("tell the provider", "its address %s cannot be read", oneLine(address, 200))
	}
	out := u.String()
	for _, v := range names {
		out = strings.Replace(out, mark, v, 1)
	}
	return out, nil
}

// withParameters adds parameters to the address of a service. Those of the same
// name, in any case, are replaced (names are not case-sensitive: OGC 06-042,
// 6.8.1); others stay as they are written.
func withParameters(address string, parameters ...string) string {
	path, query, _ := strings.Cut(address, "?")
	kept := slices.DeleteFunc(split(query), func(p string) bool { return has(parameters, p) })
	return path + "?" + strings.Join(append(kept, parameters...), "&")
}

// has reports whether there is a parameter of the same name.
func has(parameters []string, parameter string) bool {
	name, _, _ := strings.Cut(parameter, "=")
	return slices.ContainsFunc(parameters, func(p string) bool {
		own, _, _ := strings.Cut(p, "=")
		return strings.EqualFold(own, name)
	})
}

func split(query string) []string {
	return strings.FieldsFunc(query, func(r rune) bool { return r == '&' })
}

// reserved are the parameters that every request states itself.
var reserved = strings.Fields("service request version layers styles crs srs bbox width height format transparent layer style tilematrixset tilematrix tilerow tilecol")

// withStated adds the parameters of the address that the operator stated, such
// as a map file or a key, to one that the service names, where that lacks them.
func withStated(stated, address string) string {
	_, query, _ := strings.Cut(stated, "?")
	path, own, _ := strings.Cut(address, "?")
	parts := split(own)
	for _, p := range split(query) {
		if !has(parts, p) && !has(reserved, p) {
			parts = append(parts, p)
		}
	}
	return path + "?" + strings.Join(parts, "&")
}
