package ship

import (
	"debug/buildinfo"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// Part is something of others that is inside the program.
type Part struct {
	Name, Version string
	URL           string // its package URL; "" = it has none
	License       string // SPDX expression
	Text          string // the license, and the notices that go with it
}

// PackageURL is the package URL (purl) of something of a type such as golang or npm.
func PackageURL(kind, name, version string) string {
	return "pkg:" + kind + "/" + escaped.Replace(name) + "@" + escaped.Replace(version)
}

// escaped are the marks in names and versions here that a package URL does not take as they are.
var escaped = strings.NewReplacer("@", "%40", "+", "%2B")

// GoParts are the modules that a built program says are inside, and what of Go itself is.
// folder gives where a module's files are.
func GoParts(program string, folder func(module string) (string, error)) ([]Part, error) {
	info, err := buildinfo.ReadFile(program)
	if err != nil {
		return nil, err
	}
	var all []Part
	for _, m := range info.Deps {
		dir, err := folder(m.Path)
		if err != nil {
			return nil, err
		}
		p := Part{Name: m.Path, Version: m.Version, URL: PackageURL("golang", m.Path, m.Version)}
		if err := p.read(dir); err != nil {
			return nil, err
		}
		all = append(all, p)
	}
	return all, nil
}

// bundled finds the packages of a page in the text that its build writes of them.
var bundled = regexp.MustCompile(`(?m)^== (\S+)$`)

// PageParts are the npm packages that were bundled into the pages.
func PageParts(web string) ([]Part, error) {
	names := map[string]bool{}
	for _, page := range []string{"", "desk"} {
		text, err := os.ReadFile(filepath.Join(web, "dist", page, "licences.txt"))
		if err != nil {
			return nil, err
		}
		for _, m := range bundled.FindAllStringSubmatch(string(text), -1) {
			names[m[1]] = true
		}
	}
	var all []Part
	for name := range names {
		dir := filepath.Join(web, "node_modules", filepath.FromSlash(name))
		text, err := os.ReadFile(filepath.Join(dir, "package.json"))
		if err != nil {
			return nil, err
		}
		var about struct{ Version, License string }
		if err := json.Unmarshal(text, &about); err != nil {
			return nil, err
		}
		p := Part{Name: name, Version: about.Version, URL: PackageURL("npm", name, about.Version)}
		if err := p.read(dir); err != nil {
			return nil, err
		}
		p.License = strings.Trim(about.License, "()")
		all = append(all, p)
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("%s: nothing says what is in the pages; build them first", web)
	}
	return all, nil
}

// LicenseOf is a part whose license is in one file.
func LicenseOf(name, version, url, license, file string) (Part, error) {
	text, err := os.ReadFile(file)
	return Part{Name: name, Version: version, URL: url, License: license, Text: string(text)}, err
}

var isLicense = regexp.MustCompile(`(?i)^(un)?(licen[cs]es?|copying|notice|patents)(\.\w+)?$`)

// read takes the license texts at the top of a folder, and says which license it is.
func (p *Part) read(dir string) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	var texts []string
	for _, e := range entries {
		if e.IsDir() || !isLicense.MatchString(e.Name()) {
			continue
		}
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			return err
		}
		texts = append(texts, strings.TrimSpace(string(text)))
	}
	p.Text = strings.Join(texts, "\n\n")
	if p.License = known(p.Text); p.License == "" {
		return fmt.Errorf("%s: no license is known in %s: look at it, and add how it is told to kinds in cmd/dev/ship/parts.go", p.Name, dir)
	}
	return nil
}

// kinds are words that only one license has, most telling first.
var kinds = [][2]string{
	{"Apache License", "Apache-2.0"},
	{"This is free and unencumbered software released into the public domain", "Unlicense"},
	{"Mozilla Public License, version 2.0", "MPL-2.0"},
	{"Neither the name", "BSD-3-Clause"},
	{"names of its contributors may be used", "BSD-3-Clause"},
	{"The name of the author may not be used", "BSD-3-Clause"},
	{"Redistribution and use in source and binary forms", "BSD-2-Clause"},
	{"Permission to use, copy, modify, and/or distribute", "ISC"},
	{"Permission to use, copy, modify, and distribute", "ISC"},
	{"Permission is hereby granted, free of charge", "MIT"},
}

func known(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	for _, k := range kinds {
		if strings.Contains(text, k[0]) {
			return k[1]
		}
	}
	return ""
}

func inOrder(parts []Part) []Part {
	return slices.SortedFunc(slices.Values(parts), func(a, b Part) int { return strings.Compare(a.Name+a.Version, b.Name+b.Version) })
}

// Licenses is one text with the terms of all parts; equal ones are written once.
func Licenses(parts []Part) []byte {
	var all strings.Builder
	all.WriteString("Parts of this program are the work of others, and come under these terms.\n")
	var texts []string
	under := map[string][]string{}
	for _, p := range inOrder(parts) {
		if under[p.Text] == nil {
			texts = append(texts, p.Text)
		}
		under[p.Text] = append(under[p.Text], fmt.Sprintf("%s %s (%s)", p.Name, p.Version, p.License))
	}
	for _, text := range texts {
		fmt.Fprintf(&all, "\n\n== %s\n\n%s\n", strings.Join(under[text], "\n== "), text)
	}
	return []byte(all.String())
}

// List is the list of parts as a CycloneDX document, version 1.5. TestOutsideParts holds it against that standard's schema.
func List(name, version string, parts []Part) ([]byte, error) {
	type object = map[string]any
	self := PackageURL("generic", name, version)
	components, refs := []object{}, []string{}
	for _, p := range inOrder(parts) {
		c := object{"type": "library", "name": p.Name, "version": p.Version, "bom-ref": p.Name + "@" + p.Version,
			"licenses": []object{{"expression": p.License}}}
		if p.URL != "" {
			c["purl"] = p.URL
		}
		components, refs = append(components, c), append(refs, p.Name+"@"+p.Version)
	}
	text, err := json.MarshalIndent(object{
		"$schema": "http://cyclonedx.org/schema/bom-1.5.schema.json", "bomFormat": "CycloneDX", "specVersion": "1.5", "version": 1,
		"metadata":     object{"component": object{"type": "application", "name": name, "version": version, "bom-ref": self, "purl": self}},
		"components":   components,
		"dependencies": []object{{"ref": self, "dependsOn": refs}},
	}, "", "  ")
	return append(text, '\n'), err
}
