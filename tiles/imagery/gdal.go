package imagery

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

var (
	// Unusable is the kind of fault of a picture that cannot be a source.
	Unusable = fault.Input("unusable picture")
	// NoGDAL is the kind of fault of a computer without GDAL's programs.
	NoGDAL = fault.Input("GDAL is missing")
)

func unusable(path, why, remedy string) error {
	return &fault.Fault{Kind: Unusable, Place: path, Detail: why, Remedy: remedy}
}

// What a child may take. Memory is what it may reserve, far more than it uses.
const (
	mostMemoryKB = 2 << 20 // 2 GB
	mostSeconds  = 300     // of processor time
	mostOutput   = 1 << 30 // bytes of one file that it writes
	mostText     = 16 << 20
	mostStderr   = 64 << 10
)

// gdal is the programs, and a folder of their own to work in.
type gdal struct {
	dir  string
	path map[string]string
	skip string // formats that are switched off, but for VRT
}

// programs are those that are needed; one package has them all.
var programs = []string{"gdalinfo", "gdalwarp", "gdaltransform"}

// openGDAL finds the programs and makes their folder; close removes it.
func openGDAL(ctx context.Context) (*gdal, error) {
	g := &gdal{path: map[string]string{}}
	for _, name := range programs {
		found, err := exec.LookPath(name)
		if err != nil {
			return nil, &fault.Fault{Kind: NoGDAL, Detail: "pictures of your own are read by the programs of GDAL, and " +
				name + " is not installed", Remedy: install(runtime.GOOS)}
		}
		if g.path[name], err = filepath.Abs(found); err != nil {
			return nil, err
		}
	}
	var err error
	if g.dir, err = os.MkdirTemp("", "groundsheet-imagery-"); err != nil {
		return nil, err
	}
	out, err := g.run(ctx, child{program: "gdalinfo", args: []string{"--formats"}})
	if err != nil {
		return nil, errors.Join(fmt.Errorf("asking GDAL for its formats: %w", err), g.close())
	}
	g.skip = strings.Join(others(string(out)), " ")
	return g, nil
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

func (g *gdal) close() error { return os.RemoveAll(g.dir) }

// formats are those that are read: each keeps to its own file. ENVI is what
// gdalwarp writes for us.
var formats = []string{"GTiff", "JP2OpenJPEG", "JP2ECW", "JP2KAK", "JP2MrSID", "JP2Grok", "ECW", "MrSID", "HFA", "PNG", "JPEG",
	"JPEGXL", "WEBP", "BMP", "GIF", "BIGGIF", "HEIF", "ENVI"}

// others are the formats of a list of GDAL that are not read: among them all
// that lead to other files or to the network.
func others(list string) (names []string) {
	line := regexp.MustCompile(`^  (\S+) -`)
	for text := range strings.Lines(list) {
		if m := line.FindStringSubmatch(text); m != nil && !slices.Contains(formats, m[1]) && m[1] != "VRT" {
			names = append(names, m[1])
		}
	}
	return names
}

// child is one run of a program.
type child struct {
	program string
	args    []string
	input   string
	vrt     bool   // a VRT that this package wrote may be read
	url     string // the one address that may be asked, of this program itself; "" = none
}

// environment holds nothing of the operator's but where programs and their data
// are. No network but the one address: every other goes to a port where nobody
// listens (discard, RFC 863).
func (g *gdal) environment(c child) []string {
	skip := g.skip
	if !c.vrt {
		skip += " VRT"
	}
	nowhere := "http://127.0.0.1:9"
	env := []string{
		"HOME=" + g.dir, "TMPDIR=" + g.dir, "TMP=" + g.dir, "TEMP=" + g.dir, "LC_ALL=C",
		"GDAL_SKIP=" + strings.TrimSpace(skip), "GDAL_PAM_ENABLED=NO", "GDAL_CACHEMAX=32", "GDAL_NUM_THREADS=1",
		"GDAL_ENABLE_PIXEL_FUNCTIONS=NO", "GDAL_VRT_ENABLE_PYTHON=NO", "GDAL_PYTHON_DRIVER_PATH=", "PROJ_NETWORK=OFF",
		"http_proxy=" + nowhere, "https_proxy=" + nowhere, "all_proxy=" + nowhere, "no_proxy=127.0.0.1",
		"CPL_VSIL_CURL_ALLOWED_FILENAME=" + curl(c.url), "GDAL_HTTP_MAX_RETRY=0", "GDAL_HTTP_TIMEOUT=60", "VSI_CACHE=NO",
	}
	if c.url != "" {
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

// curl is the name under which GDAL opens an address; without one, a name that
// nothing has.
func curl(address string) string {
	if address == "" {
		return "/vsicurl/none"
	}
	return "/vsicurl/" + address
}

// run runs a program within the limits and gives what it printed. The shell
// sets the limits, where there is one, and becomes the program.
func (g *gdal) run(ctx context.Context, c child) ([]byte, error) {
	name, args := g.path[c.program], c.args
	if runtime.GOOS != "windows" {
		limit := fmt.Sprintf("ulimit -v %d; ulimit -t %d; ulimit -f %d; ulimit -c 0", mostMemoryKB, mostSeconds, mostOutput/512)
		args = append([]string{"-c", "{ " + limit + "; } 2>/dev/null; exec \"$0\" \"$@\"", name}, args...)
		name = "/bin/sh"
	}
	cmd := exec.CommandContext(ctx, name, args...)
	cmd.Dir, cmd.Env, cmd.Stdin = g.dir, g.environment(c), strings.NewReader(c.input)
	var out, complaint bounded
	out.most, complaint.most = mostText, mostStderr
	cmd.Stdout, cmd.Stderr, cmd.WaitDelay = &out, &complaint, 5*time.Second
	err := cmd.Run()
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case out.over:
		return nil, fmt.Errorf("%s says more than %d MB", c.program, mostText>>20)
	case err != nil || strings.Contains(complaint.String(), "ERROR "):
		return nil, errors.New(g.plain(complaint.String(), err))
	}
	return out.Bytes(), nil
}

// plain is the first complaint of a program as one line, or how it ended.
func (g *gdal) plain(complaint string, err error) string {
	text := ""
	for line := range strings.Lines(complaint) {
		if _, said, is := strings.Cut(line, "ERROR "); is && text == "" {
			_, text, _ = strings.Cut(said, ": ")
		}
	}
	text = strings.ReplaceAll(text, g.dir+string(filepath.Separator), "")
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
