package source

import (
	"net/url"
	"regexp"
	"slices"
	"strings"
)

// checkURL says what is wrong with the address and what belongs to it.
func (s Source) checkURL(wrong *problems) {
	names, err := placeholders(s.URL)
	if err != nil {
		wrong.add("url", "%v", err)
		return
	}
	if s.Asked() {
		for _, n := range names {
			wrong.unless(n == "key", "url", "{%s} has no place in it: kind %s wants the address of the service or its document; only {key} may stand in it", n, s.Kind)
		}
	} else {
		s.checkPlaceholders("url", names, wrong)
		s.checkSubdomains(names, wrong)
	}
	s.checkKey(names, wrong)
	s.checkAuthority(wrong)
}

// checkFile looks at the path of a local source; whether it is there is seen
// when it is opened.
func (s Source) checkFile(wrong *problems) {
	if s.File == "" {
		return
	}
	names, err := placeholders(s.File)
	switch {
	case err != nil && s.Kind == KindFolder:
		wrong.add("file", "%v", err)
	case s.Kind == KindFolder:
		s.checkPlaceholders("file", names, wrong)
		_, after, _ := strings.Cut(s.File, "{")
		wrong.unless(!slices.Contains(strings.Split(strings.ReplaceAll(after, `\`, "/"), "/"), ".."), "file", "must not have .. after a placeholder")
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

func (s Source) checkPlaceholders(key string, names []string, wrong *problems) {
	has := func(name string) bool { return slices.Contains(names, name) }
	known := []string{"z", "x", "y", "-y", "q", "s", "key"}
	if key == "file" {
		known = known[:5]
	}
	for _, n := range names {
		wrong.unless(slices.Contains(known, n), key, "{%s} is not a known placeholder: {%s}", n, strings.Join(known, "} {"))
	}
	whole := has("q") || has("z") && has("x") && (has("y") || has("-y"))
	wrong.unless(whole, key, "must have {z}, {x} and {y} (or {-y}), or {q}")
	wrong.unless(!has("y") || !has("-y"), key, "has both {y} and {-y}: keep one")
	wrong.unless(s.Kind != KindTMS || !has("-y"), key, "kind tms already counts rows from the south: write {y}")
}

func (s Source) checkKey(names []string, wrong *problems) {
	wants := slices.Contains(names, "key")
	wrong.unless(!wants || s.KeyEnv != "", "key_env", "is missing: url has {key}; name the environment variable that holds it")
	wrong.unless(wants || s.KeyEnv == "", "key_env", "is set but url has no {key}")
	if s.KeyEnv != "" {
		ok := regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_]*$`).MatchString(s.KeyEnv)
		// The value is not repeated: it may be a key put in the wrong place.
		wrong.unless(ok, "key_env", "must be the name of an environment variable (letters, digits, _), not the key itself")
	}
}

func (s Source) checkSubdomains(names []string, wrong *problems) {
	wants := slices.Contains(names, "s")
	wrong.unless(!wants || len(s.Subdomains) > 0, "subdomains", `is missing: url has {s}; such as ["a", "b"]`)
	wrong.unless(wants || len(s.Subdomains) == 0, "subdomains", "is set but url has no {s}")
	label := regexp.MustCompile(`^[A-Za-z0-9]([A-Za-z0-9.-]{0,60}[A-Za-z0-9])?$`)
	for _, sub := range s.Subdomains {
		wrong.unless(label.MatchString(sub), "subdomains", "%q cannot be part of a host name: letters, digits, dots, dashes", sub)
	}
}

// checkAuthority looks at scheme and host. The host must be known before a
// key or a tile is: only {s} may stand in it.
func (s Source) checkAuthority(wrong *problems) {
	scheme, rest, found := strings.Cut(s.URL, "://")
	if scheme = strings.ToLower(scheme); !found || scheme != "http" && scheme != "https" {
		wrong.add("url", "must begin with https:// or http://")
		return
	}
	authority := rest
	if end := strings.IndexAny(rest, "/?#\\"); end >= 0 {
		authority = rest[:end]
	}
	switch {
	case strings.ContainsAny(authority, "@"):
		wrong.add("url", "must not carry a user or a password before the host: use key_env and {key}")
		return
	case strings.Contains(strings.ReplaceAll(authority, "{s}", ""), "{"):
		wrong.add("url", "only {s} may stand in the host name")
		return
	case strings.Contains(s.URL, "#"):
		wrong.add("url", "must not have a #: what follows it is never sent")
		return
	}
	hosts, err := s.hosts(s.URL)
	if err != nil {
		wrong.add("url", "%v", err)
		return
	}
	for _, h := range hosts {
		name := (&url.URL{Host: h}).Hostname()
		wrong.unless(strings.Trim(name, ".") != "", "url", "has no host")
		wrong.unless(s.Kind != KindPractice || loopback(h), "url",
			"a practice source is drawn on this machine: host %q is not loopback (127.0.0.1, ::1, localhost)", h)
	}
}
