package source

import (
	"errors"
	"fmt"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// keyMark replaces a key.
const keyMark = "{key}"

// key reads the key from the environment; the error names the variable.
func (s Source) key() (string, error) {
	key := strings.TrimSpace(os.Getenv(s.KeyEnv))
	if s.KeyEnv == "" || key == "" {
		return "", fmt.Errorf("source %q needs a key: set the environment variable %s", s.Name, s.KeyEnv)
	}
	return key, nil
}

// Redact replaces the value of the key in a text by {key}, whether it is plain,
// escaped for a URL, or quoted. Without a key the text is unchanged.
func (s Source) Redact(text string) string {
	if s.KeyEnv == "" {
		return text
	}
	key, err := s.key()
	if err != nil {
		return text
	}
	for _, form := range keyForms(key) {
		text = strings.ReplaceAll(text, form, keyMark)
	}
	return text
}

// keyForms are the ways a key is written, the longest first so that no form
// leaves a piece of another behind.
func keyForms(key string) []string {
	quoted := strconv.Quote(key)
	forms := []string{key, quoted[1 : len(quoted)-1]}
	for _, escape := range []func(string) string{url.QueryEscape, url.PathEscape, escapeAll} {
		forms = append(forms, escape(key), lowerHex(escape(key)))
	}
	slices.SortFunc(forms, func(a, b string) int { return len(b) - len(a) })
	return slices.Compact(forms)
}

// escapeAll escapes for a path the way url.URL writes a path it was given
// unescaped: fewer characters than [url.PathEscape].
func escapeAll(key string) string { return (&url.URL{Path: key}).EscapedPath() }

// lowerHex writes the digits of %XX escapes in lower case.
func lowerHex(s string) string {
	b := []byte(s)
	for i := 0; i+2 < len(b); i++ {
		if b[i] == '%' {
			copy(b[i+1:i+3], strings.ToLower(string(b[i+1:i+3])))
			i += 2
		}
	}
	return string(b)
}

// plainURLError drops the URL that url.Error repeats.
func plainURLError(err error) error {
	var ue *url.Error
	if errors.As(err, &ue) {
		return ue.Err
	}
	return err
}

// WithKey replaces {key} in the address of a service by the key, escaped. The error names the environment variable that is not set.
func (s Source) WithKey(address string) (string, error) {
	if !strings.Contains(address, keyMark) {
		return address, nil
	}
	key, err := s.key()
	if err != nil {
		return "", err
	}
	path, query, _ := strings.Cut(address, "?")
	path = strings.ReplaceAll(path, keyMark, url.PathEscape(key))
	return strings.TrimSuffix(path+"?"+strings.ReplaceAll(query, keyMark, url.QueryEscape(key)), "?"), nil
}

// TakeKey puts {key} where the key is a whole part of an address's path or the
// whole value of a parameter, so that an address that a service wrote can be
// kept. The host stays as it is.
func (s Source) TakeKey(address string) string {
	key, err := s.key()
	if s.KeyEnv == "" || err != nil {
		return address
	}
	start := 0
	if scheme := strings.Index(address, "://"); scheme >= 0 {
		start = len(address)
		if end := strings.IndexAny(address[scheme+3:], "/?"); end >= 0 {
			start = scheme + 3 + end
		}
	}
	forms := keyForms(key)
	return address[:start] + part.ReplaceAllStringFunc(address[start:], func(text string) string {
		if slices.Contains(forms, text) {
			return keyMark
		}
		return text
	})
}

// part is a whole part of a path, or a name or value of a parameter.
var part = regexp.MustCompile(`[^/?&=]+`)

// HideKey finds a key among the parameters of an address that someone pasted:
// template is the address with {key} in its place, key its value, "" when there
// is none. An address with a user or password in it, or with several secrets,
// is refused: only one key can be kept out of the file.
func HideKey(address string) (template, key string, err error) {
	if u, err := url.Parse(address); err == nil && u.User != nil {
		return "", "", fmt.Errorf("the address has a user or a password before the host: only a key as a parameter can be kept out of the file")
	}
	path, query, hasQuery := strings.Cut(address, "?")
	if !hasQuery {
		return address, "", nil
	}
	parts := strings.Split(query, "&")
	found := ""
	for i, part := range parts {
		name, value, _ := strings.Cut(part, "=")
		if value == "" || strings.Contains(value, "{") || !secret(name) {
			continue
		}
		if found != "" {
			return "", "", fmt.Errorf("the address has two secrets, %s and %s: only one can be kept out of the file; ask the provider for an address with one", found, name)
		}
		if key, err = url.QueryUnescape(value); err != nil {
			return "", "", fmt.Errorf("the value of %s in the address is not escaped rightly", name)
		}
		found, parts[i] = name, name+"="+keyMark
	}
	return path + "?" + strings.Join(parts, "&"), key, nil
}

// secret goes by the names that keys have in addresses (common practice).
func secret(parameter string) bool {
	name := strings.NewReplacer("-", "", "_", "", ".", "").Replace(strings.ToLower(parameter))
	return slices.Contains([]string{"key", "apikey", "token", "apitoken", "accesstoken", "accesskey",
		"authkey", "authtoken", "auth", "authorization",
		"subscriptionkey", "appkey", "appcode", "clientkey", "licensekey", "licencekey", "userkey", "usertoken",
		"mapkey", "secret", "signature", "sig",
		"password", "passwd", "pwd", "ticket", "sessionkey"}, name)
}
