package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
)

func testCommand() *cobra.Command {
	var whole bool
	c := &cobra.Command{
		Use: "test [CHECK…]", Short: "Run every check there is, or those whose names begin so",
		Long: `test does its own set-up: npm packages, the linter, and on Debian as root the
Debian packages of the outside references and the browser. Elsewhere it says
which checks cannot run and why; with CI set in the environment such a check
fails. The race detector, which takes several times as long, watches the packages
that start goroutines or lock, and of the map page's looks not every one is opened on
every screen; with --whole all of them, and tests that try things at random try more.`,
		RunE: func(c *cobra.Command, only []string) error {
			if whole { // tests of chance and size try more
				if err := os.Setenv("GROUNDSHEET_WHOLE", "1"); err != nil {
					return err
				}
			}
			return withRoot(c.Context(), func(ctx context.Context, r repo) error { return runTests(ctx, r, only, whole) })
		},
	}
	c.Flags().BoolVar(&whole, "whole", false, "the race detector watches every package, every look is opened on every screen, and tests by chance try more")
	return c
}

// tool is something from outside that some checks need: a command, or the pattern of a file's path.
type tool struct{ command, debian, why string }

var tools = []tool{
	{"chromium", "chromium fonts-dejavu-core", "the browser tests"},
	{"firefox-esr", "firefox-esr", "the page in Firefox"},
	{"WebKitWebDriver", "webkit2gtk-driver", "the page in WebKit, the family of the iPhone's engine"},
	{"/usr/lib/*/girepository-1.0/WebKit2-4.1.typelib", "gir1.2-webkit2-4.1 python3-gi", "the window that WebKit is tested in"},
	{"Xvfb", "xvfb", "the screen that WebKit is tested on"},
	{"certutil", "libnss3-tools", "a browser that trusts the field server's certificate"},
	{"openssl", "openssl", "the comparison of certificates with OpenSSL"},
	{"gdalinfo", "gdal-bin", "the comparison with GDAL"},
	{"pdftoppm", "poppler-utils", "the brief as it is printed"},
	{"gdal2tiles.py", "gdal-bin", "the comparison with GDAL"},
	{"cs2cs", "proj-bin", "the comparison with PROJ"},
	{"librecad", "librecad", "drawings as a program for drawings reads them"},
	{"nginx", "nginx-light", "packing from a real web server"},
	{"sqlite3", "sqlite3", "the sqlite3 shell in the tests"},
	{"initdb", "postgresql", "the office store in a database"},
	{"GeoConvert", "geographiclib-tools", "the comparison of coordinates with GeographicLib"},
	{"curl", "curl", "the comparison of fetching with curl"},
	{"wrk", "wrk", "the comparison of serving with nginx"},
	{"aarch64-linux-gnu-gcc", "gcc-aarch64-linux-gnu libc6-dev-arm64-cross", "the program for boards on site"},
	{"qemu-aarch64", "qemu-user", "trying the program for boards"},
	{"x86_64-w64-mingw32-gcc", "gcc-mingw-w64-x86-64", "the program for Windows"},
	{"wine", "wine wine64", "trying the program for Windows"},
	{"debootstrap", "debootstrap", "a new system that the Debian package is installed in"},
}

// result is what one check came to.
type result struct {
	name string
	err  error
	took time.Duration
}

// longest ends a check that hangs, so that the others still run.
func longest(whole bool) time.Duration {
	if whole {
		return 50 * time.Minute
	}
	return 25 * time.Minute
}

func runTests(ctx context.Context, r repo, only []string, whole bool) error {
	if err := build(ctx, r); err != nil {
		return err
	}
	if err := npmCI(ctx, r, r.path("testdata", "reference")); err != nil {
		return err
	}
	missing := setUp(ctx, r)
	var results []result
	check := func(name string, needs []string, do func(context.Context) error) {
		if len(only) > 0 && !slices.ContainsFunc(only, func(o string) bool { return strings.HasPrefix(name, o) }) {
			return
		}
		if lacking := first(missing, needs); lacking != "" {
			results = append(results, result{name: name, err: cannotRun(lacking)})
			return
		}
		step("%s", name)
		began := time.Now()
		limited, stop := context.WithTimeoutCause(ctx, longest(whole), fmt.Errorf("not done after %v", longest(whole)))
		defer stop()
		err := do(limited)
		if err != nil && limited.Err() != nil {
			err = fmt.Errorf("%w: %w", context.Cause(limited), err)
		}
		results = append(results, result{name, err, time.Since(began)})
	}
	web := r.path("serve", "web")
	check("go vet", nil, func(ctx context.Context) error {
		return r.run(ctx, "go", "vet", "-tags", "outside,soak,shipped", "./...")
	})
	check("lint", nil, func(ctx context.Context) error { return lint(ctx, r) })
	check("map page types", nil, func(ctx context.Context) error { return r.runIn(ctx, web, nil, "npm", "run", "--silent", "check") })
	check("map page units", nil, func(ctx context.Context) error { return r.runIn(ctx, web, nil, "npm", "test", "--silent") })
	raced, plain, err := r.testedHow(ctx, whole)
	if err != nil {
		return err
	}
	check("go test -race", nil, func(ctx context.Context) error {
		return r.run(ctx, "go", append([]string{"test", "-vet=off", "-race", "-timeout", fmt.Sprint(longest(whole))}, raced...)...)
	})
	check("go test", nil, func(ctx context.Context) error {
		return r.run(ctx, "go", append([]string{"test", "-vet=off"}, plain...)...)
	})
	check("outside references", []string{"gdalinfo", "gdal2tiles.py", "cs2cs", "librecad", "nginx", "sqlite3", "initdb", "curl", "openssl", "GeoConvert", "wrk"}, func(ctx context.Context) error {
		return outsideTests(ctx, r)
	})
	check("browser", []string{"chromium", "sqlite3"}, func(ctx context.Context) error { return browser(ctx, r, whole) })
	check("browser, joining and keeping", []string{"chromium", "certutil"}, func(ctx context.Context) error { return joining(ctx, r) })
	check("browser, marking", []string{"chromium", "firefox-esr", "WebKitWebDriver", "/usr/lib/*/girepository-1.0/WebKit2-4.1.typelib", "Xvfb"}, func(ctx context.Context) error { return marking(ctx, r) })
	check("three engines", []string{"chromium", "firefox-esr", "WebKitWebDriver", "/usr/lib/*/girepository-1.0/WebKit2-4.1.typelib", "Xvfb"}, func(ctx context.Context) error { return threeEngines(ctx, r) })
	check("desk", []string{"chromium", "firefox-esr", "WebKitWebDriver", "/usr/lib/*/girepository-1.0/WebKit2-4.1.typelib", "Xvfb", "sqlite3"}, func(ctx context.Context) error { return deskTests(ctx, r) })
	check("soak", nil, func(ctx context.Context) error { return r.run(ctx, "go", soakArgs("-for=30s", "-hostile=3s")...) })
	check("readings close together", []string{"chromium"}, func(ctx context.Context) error { return closeInBrowser(ctx, r) })
	check("very many readings", []string{"chromium"}, func(ctx context.Context) error { return manyInBrowser(ctx, r) })
	check("shipped", []string{"aarch64-linux-gnu-gcc", "qemu-aarch64", "x86_64-w64-mingw32-gcc", "wine", "Xvfb", "debootstrap"}, func(ctx context.Context) error { return shippedTests(ctx, r) })
	if len(results) == 0 {
		return fmt.Errorf("no check begins with %q", only)
	}
	return verdict(results)
}

func outsideTests(ctx context.Context, r repo) error {
	packages, err := r.outside(ctx)
	if err != nil {
		return err
	}
	return r.run(ctx, "go", append([]string{"test", "-vet=off", "-tags", "outside", "-run", "Outside", "-count=1"}, packages...)...)
}

// soakArgs are the words after go that use a field server hard, and test what does that.
func soakArgs(flags ...string) []string {
	return append([]string{"test", "-tags", "soak", "-run", "Soak|Phone|Hostile", "-count=1", "-v", "-timeout", "0", "./cmd/dev", "-args"}, flags...)
}

func soakCommand() *cobra.Command {
	var long, hostile time.Duration
	var phones int
	c := &cobra.Command{
		Use: "soak", Short: "Use a field server hard, for long, and look what is left", Args: cobra.NoArgs,
		Long: `soak serves the demo's pack to phones that never rest, while the pack is exchanged
and the receiver of positions cut off; then behind a join code, beside a hostile
phone of each kind in turn. See TestSoak for what makes it fail.`,
		RunE: func(c *cobra.Command, _ []string) error {
			return withRoot(c.Context(), func(ctx context.Context, r repo) error {
				if err := build(ctx, r); err != nil {
					return err
				}
				return r.run(ctx, "go", soakArgs(fmt.Sprint("-for=", long), fmt.Sprint("-hostile=", hostile), fmt.Sprint("-phones=", phones))...)
			})
		},
	}
	c.Flags().DurationVar(&long, "for", 10*time.Minute, "how long the phones stay; 0 leaves this part out")
	c.Flags().IntVar(&phones, "phones", 50, "how many phones")
	c.Flags().DurationVar(&hostile, "hostile", 10*time.Second, "how long a hostile phone of each kind stays; 0 leaves this part out")
	return c
}

// unable marks a check that could not run.
type unable struct{ why string }

func (e unable) Error() string { return e.why }

func cannotRun(command string) error {
	for _, t := range tools {
		if t.command == command {
			return unable{fmt.Sprintf("%s is not on this machine (Debian: %s)", command, t.debian)}
		}
	}
	return unable{command + " is not on this machine"}
}

// setUp installs what is missing where that is possible, and gives what is
// missing still.
func setUp(ctx context.Context, r repo) map[string]bool {
	missing, packages := lacking()
	if len(packages) > 0 && os.Geteuid() == 0 {
		if _, err := exec.LookPath("apt-get"); err == nil {
			step("installing %s", strings.Join(packages, ", "))
			env := []string{"DEBIAN_FRONTEND=noninteractive"}
			if err := r.runIn(ctx, r.root, env, "apt-get", "update", "-qq"); err == nil {
				args := append([]string{"install", "-y", "-qq", "--no-install-recommends"}, packages...)
				err = r.runIn(ctx, r.root, env, "apt-get", args...)
				if err != nil {
					fmt.Println(err)
				}
			}
			missing, _ = lacking()
		}
	}
	return missing
}

func lacking() (commands map[string]bool, packages []string) {
	commands = map[string]bool{}
	for _, t := range tools {
		if !onMachine(t.command) {
			commands[t.command] = true
			packages = append(packages, strings.Fields(t.debian)...)
		}
	}
	return commands, packages
}

// onMachine also looks where Debian keeps PostgreSQL's programs, off the path.
func onMachine(command string) bool {
	pattern := command
	if !filepath.IsAbs(command) {
		if _, err := exec.LookPath(command); err == nil {
			return true
		}
		pattern = "/usr/lib/postgresql/*/bin/" + command
	}
	found, err := filepath.Glob(pattern)
	return err == nil && len(found) > 0
}

func first(missing map[string]bool, needs []string) string {
	for _, n := range needs {
		if missing[n] {
			return n
		}
	}
	return ""
}

// verdict prints a line for each check. A check that could not run fails in CI.
func verdict(results []result) error {
	step("results")
	passed, failed, skipped := 0, 0, 0
	for _, r := range results {
		var cannot unable
		switch {
		case r.err == nil:
			passed++
			fmt.Printf("passed      %-20s %s\n", r.name, r.took.Round(time.Second))
		case errors.As(r.err, &cannot) && os.Getenv("CI") == "":
			skipped++
			fmt.Printf("CANNOT RUN  %-20s %v\n", r.name, r.err)
		default:
			failed++
			fmt.Printf("FAILED      %-20s %s: %v\n", r.name, r.took.Round(time.Second), r.err)
		}
	}
	fmt.Printf("\n%d passed, %d failed, %d skipped\n", passed, failed, skipped)
	if failed > 0 {
		return errors.New("not every check passed")
	}
	return nil
}

// linterVersion is the one that .golangci.yml is written for.
const linterVersion = "v2.15.0"

func lint(ctx context.Context, r repo) error {
	linter := r.path(".cache", "bin", "golangci-lint-"+linterVersion)
	if _, err := os.Stat(linter); err != nil {
		dir := r.path(".cache", "bin")
		module := "github.com/golangci/golangci-lint/v2/cmd/golangci-lint@" + linterVersion
		if err := r.runIn(ctx, r.root, []string{"GOBIN=" + dir}, "go", "install", module); err != nil {
			return err
		}
		if err := os.Rename(dir+"/golangci-lint", linter); err != nil {
			return err
		}
	}
	return r.run(ctx, linter, "run", "./...")
}

// browser runs the page in Chromium against the demo's pack.
func browser(ctx context.Context, r repo, whole bool) error {
	d := demoRun{repo: r, dir: r.path(".cache", "browser")}
	running, err := d.prepare(ctx)
	if err != nil {
		return err
	}
	defer running.Close() //nolint:errcheck // the process ends with it
	if err := r.runIn(ctx, r.root, d.env(), r.program(), "pack", d.site()); err != nil {
		return err
	}
	server, err := d.startServer(ctx, "127.0.0.1:0")
	if err != nil {
		return err
	}
	args := []string{"test/browser.mjs", "--url", server.base, "--shots", r.path(".cache", "shots")}
	if whole {
		args = append(args, "--whole")
	}
	web := r.path("serve", "web")
	own := func(script string) []string { // with servers of its own
		return []string{"node", script, "--program", r.program(), "--pack", d.pack(), "--shots", r.path(".cache", "shots")}
	}
	shown := r.runIn(ctx, web, nil, "node", args...)
	stranger := r.runIn(ctx, web, nil, "node", "test/standards.mjs", "--url", server.base, "--shots", r.path(".cache", "shots"))
	told := r.beside(ctx, web, own("test/verdict.mjs"))
	hostile := r.beside(ctx, web, own("test/hostile.mjs"))
	quiet := r.beside(ctx, web, own("test/position.mjs"), own("test/idle.mjs")) // both wait most of the time
	return errors.Join(shown, stranger, told, hostile, quiet, server.stop())
}

// browserPack is the demo with the pack that the browser check made; it is made here where
// that check has not run.
func browserPack(ctx context.Context, r repo) (demoRun, error) {
	d := demoRun{repo: r, dir: r.path(".cache", "browser")}
	if _, err := os.Stat(d.pack()); err == nil {
		return d, nil
	}
	running, err := d.prepare(ctx)
	if err != nil {
		return d, err
	}
	return d, errors.Join(r.runIn(ctx, r.root, d.env(), r.program(), "pack", d.site()), running.Close())
}

// joining runs the page to join, and what a phone keeps, in Chromium; it starts servers of
// its own on the pack that the browser check made.
func joining(ctx context.Context, r repo) error {
	d, err := browserPack(ctx, r)
	if err != nil {
		return err
	}
	var failed []error
	for _, script := range []string{"test/join.mjs", "test/keep.mjs"} {
		failed = append(failed, r.runIn(ctx, r.path("serve", "web"), nil, "node", script,
			"--program", r.program(), "--pack", d.pack(), "--shots", r.path(".cache", "shots")))
	}
	return errors.Join(failed...)
}

// marking runs what a crew records, each script with servers of its own, on the pack that the
// browser check made.
func marking(ctx context.Context, r repo) error {
	d, err := browserPack(ctx, r)
	if err != nil {
		return err
	}
	var failed []error
	for _, scripts := range [][]string{{"reading", "kept"}, {"kinds", "file"}, {"spoken", "sheets"}, {"two"}, {"hard"}} { // the last two measure time
		var programs [][]string
		for _, script := range scripts {
			programs = append(programs, []string{"node", "--experimental-websocket", "--no-warnings", "test/marking/" + script + ".mjs",
				"--program", r.program(), "--pack", d.pack(), "--shots", r.path(".cache", "shots")})
		}
		failed = append(failed, r.beside(ctx, r.path("serve", "web"), programs...))
	}
	return errors.Join(failed...)
}

// largeCount makes an overlay large, so that phones get it as vector tiles.
const largeCount = 20_000

// threeEngines walks the whole page in Chromium, Firefox and WebKit, on the pack
// that the browser check made and on one with a large record.
func threeEngines(ctx context.Context, r repo) error {
	small, err := browserPack(ctx, r)
	if err != nil {
		return err
	}
	large := demoRun{repo: r, dir: r.path(".cache", "engines")}
	running, err := large.prepare(ctx)
	if err != nil {
		return err
	}
	defer running.Close() //nolint:errcheck // the process ends with it
	if err := large.manyReadings(largeCount); err != nil {
		return err
	}
	if err := r.runIn(ctx, r.root, large.env(), r.program(), "pack", large.site()); err != nil {
		return err
	}
	return r.runIn(ctx, r.path("serve", "web"), nil, "node", "--experimental-websocket", "--no-warnings", "test/engines.mjs",
		"--program", r.program(), "--pack", small.pack(), "--large", large.pack(), "--shots", r.path(".cache", "shots"))
}
