//go:build shipped

package main

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// prngSource is a library that Go asks for and Wine 8 does not have.
const prngSource = `#include <windows.h>
BOOLEAN NTAPI SystemFunction036(PVOID, ULONG); // RtlGenRandom
__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE to, SIZE_T n) { return SystemFunction036(to, (ULONG)n); }
`

// prefix is a Windows of Wine's, made once: it takes seconds.
var prefix = sync.OnceValues(func() (string, error) {
	dir, err := filepath.Abs(filepath.Join("..", "..", ".cache", "release", "wine"))
	if err != nil {
		return "", err
	}
	system := filepath.Join(dir, "drive_c", "windows", "system32")
	if _, err := os.Stat(filepath.Join(system, "bcryptprimitives.dll")); err == nil {
		return dir, nil
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", err
	}
	boot := exec.Command("wineboot", "-i")
	boot.Env = append(os.Environ(), wineEnv(dir)...)
	if out, err := boot.CombinedOutput(); err != nil {
		return "", &exec.Error{Name: "wineboot: " + string(out), Err: err}
	}
	source := filepath.Join(dir, "prng.c")
	if err := os.WriteFile(source, []byte(prngSource), 0o644); err != nil {
		return "", err
	}
	return dir, exec.Command("x86_64-w64-mingw32-gcc", "-shared", "-o", filepath.Join(system, "bcryptprimitives.dll"), source, "-ladvapi32").Run()
})

func wineEnv(dir string) []string {
	return []string{"WINEPREFIX=" + dir, "WINEDEBUG=-all", "WINEDLLOVERRIDES=mscoree,mshtml=;bcryptprimitives=n", "DISPLAY="}
}

// windows is a Windows with the shipped program, and a folder of its own on a stick, drive E.
func windows(t *testing.T) (c computer, stick string) {
	t.Helper()
	at, err := prefix()
	if err != nil {
		t.Fatal(err)
	}
	dir := unpacked(t, shipped(t, "-windows-amd64.zip"))
	stick = t.TempDir()
	drive := filepath.Join(at, "dosdevices", "e:")
	_ = os.Remove(drive)
	if err := os.Symlink(stick, drive); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.Remove(drive) })
	work := t.TempDir()
	store := t.TempDir()
	return computer{words: []string{"wine", filepath.Join(dir, "groundsheet.exe")}, dir: work,
		env: append(wineEnv(at), "GROUNDSHEET_STORE="+onDrive(store))}, stick
}

func TestShippedWindows(t *testing.T) {
	t.Parallel()
	c, stick := windows(t)
	c.walk(t)
	t.Run("brought home", func(t *testing.T) { c.home(t, `E:\24-117`) })
	t.Run("drive letters", func(t *testing.T) {
		c.run(t, "copy", "site", "--to", `E:\`)
		if got := c.run(t, "check", `E:\valve-12.mbtiles`); !strings.Contains(got, ": fit") {
			t.Error(got)
		}
		if err := prove(t.Context(), c.serve(t, `E:\`)); err != nil {
			t.Error(err)
		}
		if _, err := os.Stat(filepath.Join(stick, "valve-12.mbtiles")); err != nil {
			t.Error(err)
		}
	})
	t.Run("exchanged while served", c.exchange)
	t.Run("one run at a time", c.locks)
	t.Run("console", c.console)
	t.Run("long paths", func(t *testing.T) {
		long := strings.Repeat("a long name of a folder ", 3)
		deep := filepath.Join(long, long, long, long)
		if err := os.MkdirAll(filepath.Join(c.dir, deep), 0o755); err != nil {
			t.Fatal(err)
		}
		deep = filepath.Join(deep, "site")
		c.makeJob(t, deep)
		c.run(t, "pack", deep)
		if got := c.run(t, "check", deep); !strings.Contains(got, ": fit") {
			t.Error(got)
		}
	})
	t.Run("letters of other alphabets", func(t *testing.T) {
		c.makeJob(t, "Straße Łódź 現場")
		if got := c.run(t, "pack", "Straße Łódź 現場"); !strings.Contains(got, "Straße Łódź 現場") {
			t.Error(got)
		}
	})
	t.Run("double click", c.doubleClick) // the last: it ends all that runs in this Windows
}

// home brings the marks of the walk home while their book is served, hands them over in
// every form, and archives the job on the stick.
func (c computer) home(t *testing.T, archive string) {
	for _, step := range []struct {
		args []string
		want string
	}{
		{[]string{"collect", "site", `site\out\valve-12.fieldbook`}, "1 new"},
		{[]string{"pack", "site"}, ": fit"},
		{[]string{"handover", "site", "--as", "geojson,gpkg,kml,kmz,gpx,shp,csv,dxf,report", "--with-records"}, "1 find handed over"},
		// In place of the one before. Under Wine 8 that one stays beside it as .old: os.RemoveAll deletes by
		// FileDispositionInformationEx, which is not built there ("Unsupported class (64)"), and takes the
		// answer, invalid function, for an error: Windows without it says invalid class, and Go asks otherwise.
		{[]string{"handover", "site", "--as", "csv"}, "1 find handed over"},
		{[]string{"archive", "site", "-o", archive}, "archived and read back"},
		{[]string{"archive", "--verify", archive}, "as it was archived on"},
		{[]string{"check", archive}, ": fit"},
	} {
		if got := c.run(t, step.args...); !strings.Contains(got, step.want) {
			t.Errorf("%v says\n%s\nwant %q", step.args, got, step.want)
		}
	}
}

// A pack may be packed again while phones look at it, and nothing of the old one is left.
func (c computer) exchange(t *testing.T) {
	base := c.serve(t, "site")
	var before, after struct{ Packs []struct{ Version string } }
	if err := getJSON(t.Context(), base+"/packs.json", &before); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(c.dir, "site", "job.toml")
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte(strings.Replace(string(text), `margin = "50ft"`, `margin = "60ft"`, 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	c.run(t, "pack", "site")
	for began := time.Now(); time.Since(began) < 15*time.Second; time.Sleep(200 * time.Millisecond) {
		if err := getJSON(t.Context(), base+"/packs.json", &after); err != nil {
			t.Fatal(err)
		}
		left, _ := filepath.Glob(filepath.Join(c.dir, "site", "out", ".valve-12.*.old"))
		if after.Packs[0].Version != before.Packs[0].Version && len(left) == 0 {
			return
		}
	}
	left, _ := filepath.Glob(filepath.Join(c.dir, "site", "out", ".*"))
	t.Errorf("served is %v, was %v; left are %v", after, before, left)
}

// locks has two runs pack the same job at once: both end well, one after the other, or
// the second is told who is at it.
func (c computer) locks(t *testing.T) {
	first := c.command(t.Context(), "refresh", "site")
	if err := first.Start(); err != nil {
		t.Fatal(err)
	}
	out, err := c.command(t.Context(), "pack", "site").CombinedOutput()
	if err != nil && !strings.Contains(string(out), "is being worked on by ") {
		t.Errorf("%v\n%s", err, out)
	}
	if err := first.Wait(); err != nil && err.Error() != "exit status 3" {
		t.Errorf("the first run: %v", err)
	}
	if left, _ := filepath.Glob(filepath.Join(c.dir, "site", "out", ".*.part")); len(left) > 0 {
		t.Errorf("left: %v", left)
	}
}

// console: words come as UTF-8 to whoever reads the output, whatever the console's code page.
func (c computer) console(t *testing.T) {
	script := "chcp 437 >nul\r\n\"" + onDrive(c.words[1]) + "\" check site > said.txt\r\n"
	if err := os.WriteFile(filepath.Join(c.dir, "say.bat"), []byte(script), 0o644); err != nil {
		t.Fatal(err)
	}
	bat := c
	bat.words = []string{"wine", "cmd", "/c", "say.bat"}
	bat.run(t)
	text, err := os.ReadFile(filepath.Join(c.dir, "said.txt"))
	if err != nil || !strings.Contains(string(text), ": fit — ") {
		t.Errorf("%q, %v", text, err)
	}
}

// doubleClick starts the program as Explorer does: the desk opens, and a browser with it.
func (c computer) doubleClick(t *testing.T) {
	read, write, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	screen := exec.CommandContext(t.Context(), "Xvfb", "-displayfd", "3", "-screen", "0", "800x600x24")
	screen.ExtraFiles = []*os.File{write}
	if err := screen.Start(); err != nil {
		t.Fatal(err)
	}
	_ = write.Close()
	number, err := bufio.NewReader(read).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	said := filepath.Join(c.dir, "opened.txt")
	browser := filepath.Join(c.dir, "browser.bat")
	if err := os.WriteFile(browser, []byte("@echo %* > "+onDrive(said)+"\r\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	c.env = append(c.env, "DISPLAY=:"+strings.TrimSpace(number), "BROWSER="+onDrive(browser))
	explorer := c
	explorer.words = []string{"wine", "explorer", "/desktop=click,800x600", onDrive(c.words[1])}
	click := explorer.command(t.Context())
	if err := click.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() { // the desk would go on without the one that started it
		end := explorer
		end.words = []string{"wineserver", "-k"}
		end.run(t)
		_, _ = click.Wait(), screen.Process.Kill()
		_ = screen.Wait()
	}()
	for began := time.Now(); time.Since(began) < 40*time.Second; time.Sleep(200 * time.Millisecond) {
		if text, err := os.ReadFile(said); err == nil && strings.Contains(string(text), "open.html") {
			return
		}
	}
	t.Error("no browser was opened")
}

// onDrive is a path as Wine's Windows names it.
func onDrive(path string) string { return "Z:" + strings.ReplaceAll(path, "/", `\`) }
