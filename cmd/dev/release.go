package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"groundsheet/cmd/dev/ship"
)

func releaseCommand() *cobra.Command {
	var to string
	var only []string
	c := &cobra.Command{
		Use: "release", Short: "Build what people download", Args: cobra.NoArgs,
		Long: `release builds the program for each kind of computer and writes archives, Debian
packages and their SHA-256 sums. The same commit gives the same bytes, wherever it is
checked out, with the same compilers.

A kind whose C compiler is not on this machine is left out, and said.`,
		RunE: func(c *cobra.Command, _ []string) error {
			return withRoot(c.Context(), func(ctx context.Context, r repo) error {
				if err := build(ctx, r); err != nil {
					return err
				}
				if to == "" {
					to = r.path("bin", "release")
				}
				_, err := makeRelease(ctx, r, to, only)
				return err
			})
		},
	}
	c.Flags().StringVar(&to, "to", "", "folder to write into (else bin/release)")
	c.Flags().StringSliceVar(&only, "only", nil, "only these kinds: linux-amd64, linux-arm64, windows-amd64")
	return c
}

// kind is one kind of computer that a release is built for.
type kind struct{ system, processor, compiler, debian string }

func (k kind) String() string { return k.system + "-" + k.processor }

func (k kind) program() string {
	if k.system == "windows" {
		return "groundsheet.exe"
	}
	return "groundsheet"
}

// kinds are all of them. SQLite is compiled in, so each needs a C compiler for it.
var kinds = []kind{
	{"linux", "amd64", "x86_64-linux-gnu-gcc", "gcc libc6-dev"},
	{"linux", "arm64", "aarch64-linux-gnu-gcc", "gcc-aarch64-linux-gnu libc6-dev-arm64-cross"},
	{"windows", "amd64", "x86_64-w64-mingw32-gcc", "gcc-mingw-w64-x86-64"},
}

// stamp is what a release says of itself.
type stamp struct {
	version, commit string
	at              time.Time // of the commit
}

// release is what was made: the files by their names, and the bare programs.
type release struct {
	stamp
	dir      string
	programs map[string]string // by kind
	files    []string
}

func makeRelease(ctx context.Context, r repo, to string, only []string) (*release, error) {
	s, err := readStamp(ctx, r)
	if err != nil {
		return nil, err
	}
	m := &release{stamp: s, dir: to, programs: map[string]string{}}
	if err := errors.Join(os.RemoveAll(to), os.MkdirAll(to, 0o755)); err != nil {
		return nil, err
	}
	manual, err := r.manual(ctx)
	if err != nil {
		return nil, err
	}
	for _, k := range kinds {
		if len(only) > 0 && !strings.Contains(strings.Join(only, ","), k.String()) {
			continue
		}
		if _, err := exec.LookPath(k.compiler); err != nil {
			fmt.Printf("left out: %v, for %s is not on this machine (Debian: %s)\n", k, k.compiler, k.debian)
			continue
		}
		step("building %s %s for %v", "groundsheet", s.version, k)
		if err := m.add(ctx, r, k, manual); err != nil {
			return nil, fmt.Errorf("%v: %w", k, err)
		}
	}
	return m, m.sums()
}

// readStamp takes version, commit and time of the checkout: a tag such as v1.2.0, or a
// version that sorts before every tagged one.
func readStamp(ctx context.Context, r repo) (stamp, error) {
	git := func(args ...string) (string, error) {
		c := exec.CommandContext(ctx, "git", args...)
		c.Dir = r.root
		out, err := c.Output()
		return strings.TrimSpace(string(out)), err
	}
	commit, err := git("describe", "--always", "--dirty", "--abbrev=12", "--exclude=*")
	if err != nil {
		return stamp{}, fmt.Errorf("git says no commit: %w", err)
	}
	seconds, err := git("log", "-1", "--format=%ct")
	if given := os.Getenv("SOURCE_DATE_EPOCH"); given != "" {
		seconds, err = given, nil
	}
	if err != nil {
		return stamp{}, err
	}
	n, err := strconv.ParseInt(seconds, 10, 64)
	if err != nil {
		return stamp{}, fmt.Errorf("the time of the commit, %q, is no number of seconds: %w", seconds, err)
	}
	at := time.Unix(n, 0).UTC()
	version := "0.0." + at.Format("20060102") + "." + commit
	if tag, err := git("describe", "--tags", "--exact-match", "--dirty", "--match=v[0-9]*"); err == nil {
		version = strings.TrimPrefix(tag, "v")
	}
	return stamp{strings.ReplaceAll(version, "-", "~"), commit, at}, nil
}

// compile builds the program of one kind; paths of this machine do not get into it.
func (s stamp) compile(ctx context.Context, r repo, k kind, to string) error {
	return r.runIn(ctx, r.root, []string{"GOOS=" + k.system, "GOARCH=" + k.processor, "CC=" + k.compiler, "CGO_ENABLED=1",
		fmt.Sprint("SOURCE_DATE_EPOCH=", s.at.Unix())},
		"go", "build", "-trimpath", "-buildvcs=false", "-ldflags", "-s -w -X main.release="+s.version+" -X main.commit="+s.commit, "-o", to, "./cmd/groundsheet")
}

// add builds one kind and writes its archive, and its Debian package.
func (m *release) add(ctx context.Context, r repo, k kind, manual []ship.File) error {
	dir := filepath.Join(r.path(".cache", "release"), k.String())
	program := filepath.Join(dir, k.program())
	if err := m.compile(ctx, r, k, program); err != nil {
		return err
	}
	m.programs[k.String()] = program
	data, err := os.ReadFile(program)
	if err != nil {
		return err
	}
	texts, err := r.texts(ctx, m.version, k, program)
	if err != nil {
		return err
	}
	name := "groundsheet-" + m.version + "-" + k.String()
	all := append([]ship.File{{Path: k.program(), Data: data, Program: true}}, texts...)
	if k.system == "windows" {
		return m.write(name+".zip", func(to *bytes.Buffer) error { return ship.Zip(to, ship.Under(name, all), m.at) })
	}
	all = append(all, manual...)
	if err := m.write(name+".tar.gz", func(to *bytes.Buffer) error { return ship.TarGz(to, ship.Under(name, all), m.at) }); err != nil {
		return err
	}
	installed := append([]ship.File{{Path: "usr/bin/groundsheet", Data: data, Program: true}}, ship.Under("usr/share/doc/groundsheet", texts)...)
	installed = append(installed, ship.Under("usr/share", manual)...)
	deb, err := ship.FieldServer(program, m.version, k.processor, installed)
	if err != nil {
		return err
	}
	return m.write("groundsheet_"+m.version+"_"+k.processor+".deb", func(to *bytes.Buffer) error { return deb.Write(to, m.at) })
}

func (m *release) write(name string, fill func(*bytes.Buffer) error) error {
	var all bytes.Buffer
	if err := fill(&all); err != nil {
		return err
	}
	m.files = append(m.files, name)
	fmt.Printf("%s, %.1f MB\n", name, float64(all.Len())/1e6)
	return os.WriteFile(filepath.Join(m.dir, name), all.Bytes(), 0o644)
}

// sums writes what sha256sum --check reads.
func (m *release) sums() error {
	var all bytes.Buffer
	for _, name := range m.files {
		data, err := os.ReadFile(filepath.Join(m.dir, name))
		if err != nil {
			return err
		}
		fmt.Fprintf(&all, "%x  %s\n", sha256.Sum256(data), name)
	}
	return os.WriteFile(filepath.Join(m.dir, "SHA256SUMS"), all.Bytes(), 0o644)
}

// manual are the pages of the manual and the completions of shells, as the program that
// was built for this machine writes them, by their paths under share.
func (r repo) manual(ctx context.Context) ([]ship.File, error) {
	dir, err := os.MkdirTemp("", "manual-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir) //nolint:errcheck // the system clears its folder for such
	if err := r.run(ctx, r.program(), "manual", dir); err != nil {
		return nil, err
	}
	pages, err := filepath.Glob(filepath.Join(dir, "*.1"))
	if err != nil || len(pages) == 0 {
		return nil, errors.Join(err, errors.New("the program wrote no page of its manual"))
	}
	var all []ship.File
	for _, page := range pages {
		text, err := os.ReadFile(page)
		if err != nil {
			return nil, err
		}
		all = append(all, ship.File{Path: "man/man1/" + filepath.Base(page), Data: text})
	}
	for shell, path := range map[string]string{
		"bash": "bash-completion/completions/groundsheet",
		"zsh":  "zsh/vendor-completions/_groundsheet",
		"fish": "fish/vendor_completions.d/groundsheet.fish",
	} {
		text, err := exec.CommandContext(ctx, r.program(), "completion", shell).Output()
		if err != nil {
			return nil, fmt.Errorf("completion for %s: %w", shell, err)
		}
		all = append(all, ship.File{Path: path, Data: text})
	}
	return all, nil
}
