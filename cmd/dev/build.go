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
	"runtime"
)

// build makes the map page and the program.
func build(ctx context.Context, r repo) error {
	if err := buildPage(ctx, r); err != nil {
		return err
	}
	step("building bin/groundsheet")
	return r.run(ctx, "go", "build", "-o", r.program(), "./cmd/groundsheet")
}

func (r repo) program() string {
	name := "groundsheet"
	if runtime.GOOS == "windows" {
		name += ".exe"
	}
	return r.path("bin", name)
}

func buildPage(ctx context.Context, r repo) error {
	for tool, why := range map[string]string{
		"node": "install Node.js 20 or newer: it builds the map page", "npm": "install npm: it brings the map page's libraries",
		"cc": "install a C compiler (on Debian: apt-get install gcc libc6-dev): SQLite is compiled in",
	} {
		if _, err := exec.LookPath(tool); err != nil {
			return fmt.Errorf("%s is not on this machine; %s", tool, why)
		}
	}
	web := r.path("serve", "web")
	if err := npmCI(ctx, r, web); err != nil {
		return err
	}
	step("building the map page")
	return r.runIn(ctx, web, nil, "npm", "run", "--silent", "build")
}

// npmCI installs exactly what the lock file says, unless it is there already.
func npmCI(ctx context.Context, r repo, dir string) error {
	lock, err := os.ReadFile(filepath.Join(dir, "package-lock.json"))
	if err != nil {
		return err
	}
	sum := fmt.Appendf(nil, "%x", sha256.Sum256(lock))
	stamp := filepath.Join(dir, "node_modules", ".installed-from")
	if was, err := os.ReadFile(stamp); err == nil && bytes.Equal(was, sum) {
		return nil
	}
	rel, err := filepath.Rel(r.root, dir)
	if err != nil {
		return err
	}
	step("installing the npm packages of %s", rel)
	if err := r.runIn(ctx, dir, nil, "npm", "ci", "--no-audit", "--no-fund"); err != nil {
		return errors.Join(err, errors.New("npm could not install; is the registry reachable?"))
	}
	return os.WriteFile(stamp, sum, 0o644)
}
