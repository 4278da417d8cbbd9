// Package gdal runs the programs of GDAL as children with limits of memory, time
// and output, in a folder of their own, without the operator's environment, without
// the network but for one address, and with all formats switched off but those that
// are named: a file from anywhere must not lead to another one.
package gdal

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"time"
	"unicode"

	"groundsheet/tiles/fault"
)

// Missing is the kind of fault of a computer without GDAL's programs.
var Missing = fault.Input("GDAL is missing")

// What a child may take. Memory is what it may reserve, far more than it uses.
const (
	mostMemoryKB = 2 << 20 // 2 GB
	mostSeconds  = 300     // of processor time
	mostOutput   = 1 << 30 // bytes of one file that it writes
	mostText     = 16 << 20
	mostStderr   = 64 << 10
)

// Needs say which programs are run, and what for.
type Needs struct {
	Programs []string
	Purpose  string   // begins the sentence when one is missing: "pictures of your own are read"
	Lister   string   // the program that lists the formats
	Formats  []string // that are read or written; all others are switched off, VRT by [Child.VRT]
}

// Tools are the programs, and a folder of their own to work in.
type Tools struct {
	Dir  string
	path map[string]string
	skip []string // formats that are switched off, but for VRT
}

// Open finds the programs and makes their folder; Close removes it.
func Open(ctx context.Context, n Needs) (*Tools, error) {
	t := &Tools{path: map[string]string{}}
	for _, name := range n.Programs {
		found, err := exec.LookPath(name)
		if err != nil {
			return nil, &fault.Fault{Kind: Missing, Place: name, Detail: n.Purpose + " by the programs of GDAL, and " +
				name + " is not installed", Remedy: install(runtime.GOOS)}
		}
		if t.path[name], err = filepath.Abs(found); err != nil {
			return nil, err
		}
	}
	var err error
	if t.Dir, err = os.MkdirTemp("", "groundsheet-gdal-"); err != nil {
		return nil, err
	}
	out, err := t.Run(ctx, Child{Program: n.Lister, Args: []string{"--formats"}})
	if err != nil {
		return nil, errors.Join(fmt.Errorf("asking GDAL for its formats: %w", err), t.Close())
	}
	t.skip = others(string(out), n.Formats)
	return t, nil
}

// install says which package has the programs.
func install(system string) string {
	switch system {
	case "darwin":
		return "install it: brew install gdal"
	case "windows":
		return "install the package gdal of OSGeo4W (or: conda install -c conda-forge gdal), and put its folder bin on the PATH"
	}
	return "install the package gdal-bin (Debian, Ubuntu), gdal (Fedora, Arch) or gdal-tools (Alpine)"
}

// Close removes the folder.
func (t *Tools) Close() error { return os.RemoveAll(t.Dir) }

var formatLine = regexp.MustCompile(`^  (.+?) -[a-z, ]+- `)

// others are the formats of a list of GDAL that are not among the kept ones.
func others(list string, kept []string) (names []string) {
	for text := range strings.Lines(list) {
		if m := formatLine.FindStringSubmatch(text); m != nil && !slices.Contains(kept, m[1]) && m[1] != "VRT" {
			names = append(names, m[1])
		}
	}
	return names
}

// Child is one run of a program.
type Child struct {
	Program string
	Args    []string
	Input   string
	VRT     bool   // a VRT that our own program wrote may be read
	URL     string // the one address that may be asked, of this program itself; "" = none
}

// environment holds nothing of the operator's but where programs and their data
// are. No network but the one address: every other goes to a port where nobody
// listens (discard, RFC 863).
func (t *Tools) environment(c Child) []string {
	skip := slices.Clone(t.skip)
	if !c.VRT {
		skip = append(skip, "VRT")
	}
	nowhere := "http://127.0.0.1:9"
	env := []string{
		"HOME=" + t.Dir, "TMPDIR=" + t.Dir, "TMP=" + t.Dir, "TEMP=" + t.Dir, "LC_ALL=C",
		"OGR_SKIP=" + strings.Join(skip, ","), "GDAL_PAM_ENABLED=NO", "GDAL_CACHEMAX=32", "GDAL_NUM_THREADS=1",
		"GDAL_ENABLE_PIXEL_FUNCTIONS=NO", "GDAL_VRT_ENABLE_PYTHON=NO", "GDAL_PYTHON_DRIVER_PATH=", "PROJ_NETWORK=OFF",
		"http_proxy=" + nowhere, "https_proxy=" + nowhere, "all_proxy=" + nowhere, "no_proxy=127.0.0.1",
		"CPL_VSIL_CURL_ALLOWED_FILENAME=" + Curl(c.URL), "GDAL_HTTP_MAX_RETRY=0", "GDAL_HTTP_TIMEOUT=60", "VSI_CACHE=NO",
	}
	if c.URL != "" {
		env = append(env, "GDAL_DISABLE_READDIR_ON_OPEN=TRUE")
	}
	for _, name := range []string{"PATH", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH", "GDAL_DATA", "GDAL_DRIVER_PATH", "PROJ_LIB",
		"PROJ_DATA", "SystemRoot"} {
		if value, is := os.LookupEnv(name); is {
			env = append(env, name+"="+value)
		}
	}
	return env
}

// Curl is the name under which GDAL opens an address; without one, a name that
// nothing has.
func Curl(address string) string {
	if address == "" {
		return "/vsicurl/none"
	}
	return "/vsicurl/" + address
}

// Run runs a program within the limits and gives what it printed. The shell
// sets the limits, where there is one, and becomes the program.
func (t *Tools) Run(ctx context.Context, c Child) ([]byte, error) {
	name, args := t.path[c.Program], c.Args
	if runtime.GOOS != "windows" {
		limit := fmt.Sprintf("ulimit -v %d; ulimit -t %d; ulimit -f %d; ulimit -c 0", mostMemoryKB, mostSeconds, mostOutput/512)
		args = append([]string{"-c", "{ " + limit + "; } 2>/dev/null; exec \"$0\" \"$@\"", name}, args...)
		name = "/bin/sh"
	}
	cmd := exec.CommandContext(ctx, name, args...)
	cmd.Dir, cmd.Env, cmd.Stdin = t.Dir, t.environment(c), strings.NewReader(c.Input)
	var out, complaint bounded
	out.most, complaint.most = mostText, mostStderr
	cmd.Stdout, cmd.Stderr, cmd.WaitDelay = &out, &complaint, 5*time.Second
	err := cmd.Run()
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case out.over:
		return nil, fmt.Errorf("%s says more than %d MB", c.Program, mostText>>20)
	case err != nil || strings.Contains(complaint.String(), "ERROR "):
		return nil, errors.New(t.plain(complaint.String(), err))
	}
	return out.Bytes(), nil
}

// plain is the first complaint of a program as one line, or how it ended.
func (t *Tools) plain(complaint string, err error) string {
	text := ""
	for line := range strings.Lines(complaint) {
		if _, said, is := strings.Cut(line, "ERROR "); is && text == "" {
			_, text, _ = strings.Cut(said, ": ")
		}
	}
	text = strings.ReplaceAll(text, t.Dir+string(filepath.Separator), "")
	text = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == unicode.ReplacementChar {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(text, " "))
	switch text = strings.TrimRight(strings.TrimSpace(text[:min(len(text), 300)]), "."); {
	case text != "":
		return "GDAL says: " + text
	case err == nil:
		return "GDAL could not read it"
	case strings.Contains(err.Error(), "signal"):
		return "GDAL was ended (" + err.Error() + "): it took too much memory or time"
	}
	return "GDAL could not read it (" + err.Error() + ")"
}

// bounded keeps so many bytes and drops the rest.
type bounded struct {
	bytes.Buffer
	most int
	over bool
}

func (b *bounded) Write(p []byte) (int, error) {
	keep := min(len(p), b.most-b.Len())
	b.over = b.over || keep < len(p)
	_, _ = b.Buffer.Write(p[:keep]) // to memory
	return len(p), nil
}

// ReadFrom hides the one of the buffer, which has no bound.
func (b *bounded) ReadFrom(r io.Reader) (int64, error) { return io.Copy(struct{ io.Writer }{b}, r) }
