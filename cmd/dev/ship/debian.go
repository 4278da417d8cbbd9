package ship

import (
	"debug/elf"
	"embed"
	"fmt"
	"strconv"
	"strings"
)

//go:embed debian
var debian embed.FS

// FieldServer is the Debian package of the program: the files, and what makes a field server
// of a computer.
func FieldServer(program, version, arch string, files []File) (Deb, error) {
	libc, err := leastLibc(program)
	if err != nil {
		return Deb{}, err
	}
	d := Deb{Files: files, Fields: [][2]string{
		{"Package", "groundsheet"}, {"Version", version}, {"Architecture", arch}, {"Section", "misc"}, {"Priority", "optional"},
		{"Maintainer", "groundsheet"}, {"Depends", "libc6 (>= " + libc + "), adduser"}, {"Suggests", "gdal-bin"},
		{"Description", "maps of buried utilities for where there is no signal\n" +
			" It packs a dig job's base map with what is recorded under the ground, and serves\n" +
			" the pack to every phone on the crew's hotspot. The field server is installed and\n" +
			" not started: systemctl enable --now groundsheet"},
	}}
	for name, to := range map[string]string{"groundsheet.service": "usr/lib/systemd/system/groundsheet.service", "default": "etc/default/groundsheet"} {
		text, err := debian.ReadFile("debian/" + name)
		if err != nil {
			return Deb{}, err
		}
		d.Files = append(d.Files, File{Path: to, Data: text})
	}
	for _, name := range []string{"postinst", "prerm", "postrm"} {
		text, err := debian.ReadFile("debian/" + name)
		if err != nil {
			return Deb{}, err
		}
		d.Scripts = append(d.Scripts, File{Path: name, Data: text, Program: true})
	}
	return d, nil
}

// leastLibc is the oldest C library with everything that a program asks of it.
func leastLibc(program string) (string, error) {
	f, err := elf.Open(program)
	if err != nil {
		return "", err
	}
	defer f.Close() //nolint:errcheck // it is only read
	symbols, err := f.ImportedSymbols()
	if err != nil {
		return "", err
	}
	least := 0
	for _, s := range symbols {
		if minor, is := strings.CutPrefix(s.Version, "GLIBC_2."); is {
			minor, _, _ = strings.Cut(minor, ".")
			n, err := strconv.Atoi(minor)
			if err != nil {
				return "", fmt.Errorf("%s: version %q of %s is not understood", program, s.Version, s.Name)
			}
			least = max(least, n)
		}
	}
	if least == 0 {
		return "", fmt.Errorf("%s asks nothing of the C library", program)
	}
	return fmt.Sprintf("2.%d", least), nil
}
