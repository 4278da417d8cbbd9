package source

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
)

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
	return slices.Contains([]string{"key", "apikey", "token", "apitoken", "accesstoken", "accesskey", "authkey", "authtoken", "auth", "authorization",
		"subscriptionkey", "appkey", "appcode", "clientkey", "licensekey", "licencekey", "userkey", "usertoken", "mapkey", "secret", "signature", "sig",
		"password", "passwd", "pwd", "ticket", "sessionkey"}, name)
}
