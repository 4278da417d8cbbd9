package discover

import (
	"net/url"
	"regexp"
	"slices"
	"strings"

	"groundsheet/tiles/source"
)

// translate makes one of our templates from a service's: value gives what
// stands for each of its variables, and whether it is a text to be escaped.
// {key} stays.
func translate(template string, value func(name string) (text string, literal bool, err error)) (string, error) {
	path, query, hasQuery := strings.Cut(template, "?")
	path, err := replace(path, value, url.PathEscape)
	if err != nil || !hasQuery {
		return path, err
	}
	query, err = replace(query, value, escape)
	return path + "?" + query, err
}

func replace(template string, value func(string) (string, bool, error), escape func(string) string) (string, error) {
	return source.Expand(template, func(name string) (string, error) {
		if name == "key" {
			return "{key}", nil
		}
		text, literal, err := value(name)
		if literal && err == nil {
			text = escape(text)
		}
		return text, err
	})
}

// escape is for values in a query: a space as %20, which every service reads.
func escape(s string) string { return strings.ReplaceAll(url.QueryEscape(s), "+", "%20") }

var variable = regexp.MustCompile(`\{[^{}]*\}`)

// allowed checks where a template leads to and gives it back. Services often
// write http although they were asked by https: on the same host that is put
// right, never the other way.
func allowed(src source.Source, from *url.URL, template string) (string, error) {
	if strings.Contains(authority(template), "{") {
		return "", unfit("ask the provider for an address with a plain host name", "its address %s has a variable in the host name", plain(template, 200))
	}
	for _, v := range variable.FindAllString(template, -1) {
		if !slices.Contains([]string{"{z}", "{x}", "{y}", "{-y}", "{matrix}", "{bbox}", "{pixels}", "{key}"}, v) {
			return "", unfit("tell the provider", "its address %s has %s, which is not known", plain(template, 200), plain(v, 40))
		}
	}
	to, err := url.Parse(variable.ReplaceAllString(template, "0"))
	if err != nil || to.Host == "" {
		return "", unfit("tell the provider: such addresses have to be absolute", "its address %s cannot be used", plain(template, 200))
	}
	if from.Scheme == "https" && to.Scheme == "http" && strings.EqualFold(from.Hostname(), to.Hostname()) && (to.Port() == "" || to.Port() == "80") {
		template = "https://" + from.Host + template[strings.Index(template, "://")+3+len(to.Host):]
		to.Scheme, to.Host = "https", from.Host
	}
	if strings.Contains(template, "{key}") {
		to.RawQuery += "{key}" // so that it is seen when another host would get it
	}
	return template, src.AllowsHost(from, to)
}

// authority is the part between the scheme and the path.
func authority(address string) string {
	_, rest, _ := strings.Cut(address, "://")
	if end := strings.IndexAny(rest, "/?#\\"); end >= 0 {
		return rest[:end]
	}
	return rest
}

// absolute reads an address in a document, which may be relative to it and may
// have variables in braces.
func absolute(from *url.URL, address string) (string, error) {
	const mark = "zz7zz" // plain letters and digits survive every way of escaping
	var names []string
	plainly := variable.ReplaceAllStringFunc(strings.ReplaceAll(address, mark, ""), func(v string) string {
		names = append(names, v)
		return mark
	})
	u, err := from.Parse(plainly)
	if err != nil {
		return "", unfit("tell the provider", "its address %s cannot be read", plain(address, 200))
	}
	out := u.String()
	for _, v := range names {
		out = strings.Replace(out, mark, v, 1)
	}
	return out, nil
}

// ask adds parameters to the address of a service. Parameters of the same name,
// in any case, are replaced (names are not case-sensitive: OGC 06-042, 6.8.1);
// others stay as they are written.
func ask(address string, parameters ...string) string {
	path, query, _ := strings.Cut(address, "?")
	var kept []string
	for part := range strings.SplitSeq(query, "&") {
		if name, _, _ := strings.Cut(part, "="); part != "" && !has(parameters, name) {
			kept = append(kept, part)
		}
	}
	return path + "?" + strings.Join(append(kept, parameters...), "&")
}

func has(parameters []string, name string) bool {
	for _, p := range parameters {
		if own, _, _ := strings.Cut(p, "="); strings.EqualFold(own, name) {
			return true
		}
	}
	return false
}

// carry adds the parameters of the address that the operator stated to one
// that the service names, where that lacks them: a map file, a key.
func carry(stated, address string) string {
	_, query, _ := strings.Cut(stated, "?")
	path, own, _ := strings.Cut(address, "?")
	parts := strings.FieldsFunc(own, func(r rune) bool { return r == '&' })
	for _, p := range strings.FieldsFunc(query, func(r rune) bool { return r == '&' }) {
		if name, _, _ := strings.Cut(p, "="); !has(parts, name) && !has(reserved(), name) {
			parts = append(parts, p)
		}
	}
	return path + "?" + strings.Join(parts, "&")
}

// reserved are the parameters that every request states anew.
func reserved() []string {
	return strings.Fields("service request version layers styles crs srs bbox width height format transparent layer style tilematrixset tilematrix tilerow tilecol")
}
