//go:build shipped

package main

import (
	"archive/tar"
	"archive/zip"
	"compress/gzip"
	"context"
	"errors"
	"flag"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

var releaseAt = flag.String("release", "", "folder with what is shipped")

// shipped finds the one file of the release whose name has this ending.
func shipped(t *testing.T, ending string) string {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(*releaseAt, "*"+ending))
	if err != nil || len(found) != 1 {
		t.Fatalf("%d files *%s are in the release, one is wanted (%v)", len(found), ending, err)
	}
	return found[0]
}

// unpacked gives the files of an archive as a person has them after unpacking it.
func unpacked(t *testing.T, archive string) (dir string) {
	t.Helper()
	to := t.TempDir()
	put := func(name string, mode os.FileMode, from io.Reader) {
		path := filepath.Join(to, filepath.FromSlash(name))
		data, err := io.ReadAll(from)
		if err == nil {
			err = errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), os.WriteFile(path, data, mode))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if strings.HasSuffix(archive, ".zip") {
		z, err := zip.OpenReader(archive)
		if err != nil {
			t.Fatal(err)
		}
		defer z.Close()
		for _, f := range z.File {
			from, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			put(f.Name, 0o644, from)
		}
	} else {
		f, err := os.Open(archive)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		z, err := gzip.NewReader(f)
		if err != nil {
			t.Fatal(err)
		}
		for r := tar.NewReader(z); ; {
			h, err := r.Next()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			if h.Typeflag == tar.TypeReg {
				put(h.Name, h.FileInfo().Mode(), r)
			}
		}
	}
	return filepath.Join(to, strings.TrimSuffix(strings.TrimSuffix(filepath.Base(archive), ".zip"), ".tar.gz"))
}

// computer runs a shipped program.
type computer struct {
	words []string // the program, and what runs it
	env   []string
	dir   string // where commands are started
}

func (c computer) command(ctx context.Context, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, c.words[0], append(c.words[1:], args...)...)
	cmd.Dir, cmd.Env = c.dir, append(os.Environ(), c.env...)
	return cmd
}

// run runs a command to its end, and gives what it wrote.
func (c computer) run(t *testing.T, args ...string) string {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), 2*time.Minute)
	defer stop()
	out, err := c.command(ctx, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("groundsheet %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

const smallRecord = `{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {"size": "6 in"},
"geometry": {"type": "LineString", "coordinates": [[-140.4967104, 40.4987702], [-140.4967104, 40.4984502]]}}]}`

// makeJob makes a small job of the practice source, with one record.
func (c computer) makeJob(t *testing.T, name string) {
	t.Helper()
	c.run(t, "new", name, "--name", "Valve 12", "--around", "40.4986,-140.4968", "--radius", "40ft", "--source", "practice")
	dir := filepath.Join(c.dir, name)
	file := filepath.Join(dir, "job.toml")
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	text = append(text, "\n[[overlay]]\nfile = \"overlays/water.geojson\"\nutility = \"water\"\n"...)
	small := strings.Replace(string(text), "# zooms = [14, 21]", "zooms = [14, 19]", 1)
	if err := errors.Join(os.Mkdir(filepath.Join(dir, "overlays"), 0o755), os.WriteFile(file, []byte(small), 0o644),
		os.WriteFile(filepath.Join(dir, "overlays", "water.geojson"), []byte(smallRecord), 0o644)); err != nil {
		t.Fatal(err)
	}
}

// walk does a whole job on a computer, from new to one tile on a phone.
func (c computer) walk(t *testing.T) {
	t.Helper()
	if got := c.run(t, "--version"); !strings.Contains(got, "groundsheet version ") || strings.Contains(got, "devel") {
		t.Errorf("--version says %q", got)
	}
	c.makeJob(t, "site")
	if got := c.run(t, "plan", "site"); !strings.Contains(got, "to fetch") {
		t.Errorf("plan says:\n%s", got)
	}
	c.run(t, "pack", "site")
	if got := c.run(t, "check", "site"); !strings.Contains(got, ": fit") {
		t.Errorf("check says:\n%s", got)
	}
	c.run(t, "brief", "site")
	if info, err := os.Stat(filepath.Join(c.dir, "site", "out", "valve-12.pdf")); err != nil || info.Size() < 10_000 {
		t.Errorf("the brief: %v, %v", info, err)
	}
	if err := prove(t.Context(), c.serve(t, "site")); err != nil {
		t.Error(err)
	}
	c.mark(t)
}

// mark adds a reading to the field book, as a phone that may does, and proves the book.
func (c computer) mark(t *testing.T) {
	t.Helper()
	const code = "marksmarksmarks"
	base := c.serve(t, "site", "--always-ask", "--mark-code", code)
	id := strings.Repeat("ab", 16)
	body := strings.ReplaceAll(`{"entries":["{'layout':1,'id':'ID','mark':'ID','after':[],'action':'write','who':'Ada','phone':'ID','clock':'2031-05-06T12:00:00Z',`+
		`'feature':{'type':'Feature','geometry':{'type':'Point','coordinates':[-140.4968,40.4986]},'properties':{'kind':'reading','utility':'gas'}}}"]}`, "'", `\"`)
	request, err := http.NewRequestWithContext(t.Context(), http.MethodPost, base+"/packs/valve-12/book/entries", strings.NewReader(strings.ReplaceAll(body, "ID", id)))
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Content-Type", "application/json")
	request.SetBasicAuth("crew", code)
	answer, err := http.DefaultClient.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	text, _ := io.ReadAll(answer.Body)
	_ = answer.Body.Close()
	if answer.StatusCode != http.StatusOK || !strings.Contains(string(text), `"number":1`) {
		t.Errorf("the mark: %s, %s", answer.Status, text)
	}
	if got := c.run(t, "check", filepath.Join("site", "out", "valve-12.fieldbook")); !strings.Contains(got, "1 mark") {
		t.Error(got)
	}
}

// serve starts a field server that ends with the test.
func (c computer) serve(t *testing.T, args ...string) (base string) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	cmd := c.command(ctx, append([]string{"serve", "--listen", "127.0.0.1:0"}, args...)...)
	cmd.WaitDelay = 5 * time.Second
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	t.Cleanup(func() { stop(); _ = cmd.Wait() })
	if err != nil {
		t.Fatal(err)
	}
	if base, err = echo(out, true); err != nil {
		t.Fatal(err)
	}
	return base
}

func TestShippedArm(t *testing.T) {
	t.Parallel()
	dir := unpacked(t, shipped(t, "-linux-arm64.tar.gz"))
	home := t.TempDir()
	computer{words: []string{"qemu-aarch64", "-L", "/usr/aarch64-linux-gnu", filepath.Join(dir, "groundsheet")},
		env: []string{"HOME=" + home, "XDG_CACHE_HOME=" + home, "XDG_CONFIG_HOME=" + home}, dir: t.TempDir()}.walk(t)
}

func TestShippedAmd(t *testing.T) {
	t.Parallel()
	dir := unpacked(t, shipped(t, "-linux-amd64.tar.gz"))
	home := t.TempDir()
	computer{words: []string{filepath.Join(dir, "groundsheet")},
		env: []string{"HOME=" + home, "XDG_CACHE_HOME=" + home, "XDG_CONFIG_HOME=" + home}, dir: t.TempDir()}.walk(t)
	for name, least := range map[string]int64{"README.md": 10_000, "CHANGES.md": 200, "LICENSES.txt": 20_000, "parts.cdx.json": 5_000,
		"man/man1/groundsheet-serve.1": 1_000, "bash-completion/completions/groundsheet": 1_000} {
		if info, err := os.Stat(filepath.Join(dir, name)); err != nil || info.Size() < least {
			t.Errorf("%s: %v", name, err)
		}
	}
}
