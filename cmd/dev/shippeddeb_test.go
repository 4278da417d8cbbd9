//go:build shipped

package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// newDebian makes a Debian of its own in a folder, kept as an archive in the user's
// cache: making one takes a minute.
func newDebian(t *testing.T) (root string) {
	t.Helper()
	if os.Geteuid() != 0 {
		if os.Getenv("CI") != "" {
			t.Fatal("not root: the Debian package is not tried")
		}
		t.Skip("only root can make a system in a folder and install into it")
	}
	cache, err := os.UserCacheDir()
	if err != nil {
		t.Fatal(err)
	}
	kept := filepath.Join(cache, "groundsheet-dev", "debian-12-1.tar")
	root = t.TempDir()
	if _, err := os.Stat(kept); err != nil {
		must(t, "debootstrap", "--variant=minbase", "--include=adduser,systemd", "bookworm", root)
		if err := os.MkdirAll(filepath.Dir(kept), 0o755); err != nil {
			t.Fatal(err)
		}
		must(t, "tar", "--exclude=./var/cache/apt/archives/*.deb", "-C", root, "-cf", kept+".part", ".")
		if err := os.Rename(kept+".part", kept); err != nil {
			t.Fatal(err)
		}
		return root
	}
	must(t, "tar", "-C", root, "-xpf", kept)
	return root
}

// must runs a command that has to do what it is asked.
func must(t *testing.T, name string, args ...string) string {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), 8*time.Minute)
	defer stop()
	out, err := exec.CommandContext(ctx, name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
	return string(out)
}

func in(root string, words ...string) []string {
	return append([]string{"--mount", "--pid", "--fork", "chroot", root}, words...)
}

func TestShippedDebian(t *testing.T) {
	t.Parallel()
	if got := must(t, "dpkg-deb", "--info", shipped(t, "_arm64.deb")); !strings.Contains(got, "Architecture: arm64") {
		t.Error(got)
	}
	root := newDebian(t)
	deb := filepath.Join(root, "root", "groundsheet.deb")
	must(t, "cp", shipped(t, "_amd64.deb"), deb)
	must(t, "unshare", in(root, "dpkg", "--install", "/root/groundsheet.deb")...)

	unit := "/usr/lib/systemd/system/groundsheet.service"
	if got := must(t, "unshare", in(root, "systemd-analyze", "verify", "--man=no", unit)...); strings.TrimSpace(got) != "" {
		t.Errorf("systemd says of the unit:\n%s", got)
	}
	packs := filepath.Join(root, "var", "lib", "groundsheet", "packs")
	must(t, "cp", packOf(t), packs)
	settings := filepath.Join(root, "etc", "default", "groundsheet")
	must(t, "sed", "-i", "s/0.0.0.0:8460/0.0.0.0:0/", settings)
	openAsUser(t, root, filepath.Join(root, unit))

	// A newer one over it, and taken away: what the crew has stays, settings until it is purged.
	must(t, "unshare", in(root, "dpkg", "--install", "/root/groundsheet.deb")...)
	if got, err := os.ReadFile(settings); err != nil || !strings.Contains(string(got), "0.0.0.0:0") {
		t.Errorf("the settings after an upgrade: %s, %v", got, err)
	}
	must(t, "unshare", in(root, "dpkg", "--purge", "groundsheet")...)
	if left, err := filepath.Glob(filepath.Join(packs, "*.mbtiles")); err != nil || len(left) != 1 {
		t.Errorf("packs after it was taken away: %v, %v", left, err)
	}
	if _, err := os.Stat(settings); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the settings after purging: %v", err)
	}
}

// packOf is a small pack, made by the shipped program.
func packOf(t *testing.T) string {
	t.Helper()
	home := t.TempDir()
	c := computer{words: []string{filepath.Join(unpacked(t, shipped(t, "-linux-amd64.tar.gz")), "groundsheet")},
		env: []string{"HOME=" + home, "XDG_CACHE_HOME=" + home, "XDG_CONFIG_HOME=" + home}, dir: t.TempDir()}
	c.makeJob(t, "site")
	c.run(t, "pack", "site")
	return filepath.Join(c.dir, "site", "out", "valve-12.mbtiles")
}

var unitLine = regexp.MustCompile(`(?m)^(ExecStart|User|WorkingDirectory|EnvironmentFile|Environment)=(.*)$`)

// openAsUser starts what the unit starts, as its user, and opens the map with the code
// that it says.
func openAsUser(t *testing.T, root, unit string) {
	t.Helper()
	text, err := os.ReadFile(unit)
	if err != nil {
		t.Fatal(err)
	}
	says := map[string]string{}
	for _, m := range unitLine.FindAllStringSubmatch(string(text), -1) {
		says[m[1]] = m[2]
	}
	script := fmt.Sprintf("set -a; . %s; cd %s; exec env -i PATH=/usr/bin:/bin %s %s", says["EnvironmentFile"], says["WorkingDirectory"], says["Environment"], says["ExecStart"])
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	c := exec.CommandContext(ctx, "chroot", "--userspec="+says["User"]+":"+says["User"], root, "/bin/sh", "-c", script)
	c.WaitDelay = 5 * time.Second
	out, err := c.StdoutPipe()
	if err == nil {
		err = c.Start()
	}
	defer func() { stop(); _ = c.Wait() }()
	if err != nil {
		t.Fatal(err)
	}
	base, code := "", ""
	lines := bufio.NewScanner(out)
	for code == "" && lines.Scan() {
		if url, is := strings.CutPrefix(lines.Text(), "map: "); is && strings.Contains(url, "127.0.0.1") {
			base, _, _ = strings.Cut(url, " ")
		}
		if said, is := strings.CutPrefix(lines.Text(), "join code: "); is {
			code = said
		}
	}
	go io.Copy(io.Discard, out) // ends with the server
	if page, err := get(ctx, base+"join"); err != nil || !strings.Contains(string(page), "<html") {
		t.Errorf("the page to join: %v", err)
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, base+"packs.json", nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, with := range []struct {
		code string
		want int
	}{{"", http.StatusUnauthorized}, {strings.ReplaceAll(code, " ", ""), http.StatusOK}} {
		if with.code != "" {
			request.SetBasicAuth("crew", with.code)
		}
		answer, err := http.DefaultClient.Do(request)
		if err != nil {
			t.Fatal(err)
		}
		body, _ := io.ReadAll(answer.Body)
		_ = answer.Body.Close()
		if answer.StatusCode != with.want || with.want == http.StatusOK && !strings.Contains(string(body), "Valve 12") {
			t.Errorf("with code %q: %s, %s", with.code, answer.Status, body)
		}
	}
}
