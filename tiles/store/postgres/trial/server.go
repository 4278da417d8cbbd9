//go:build unix

package trial

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// Password is that of the server's only user.
const Password = "trial-7f3a secret"

// Server is a PostgreSQL server that can be ended and started again.
type Server struct {
	dir, bin string
	port     int
	owner    *syscall.Credential // nil = whoever runs the tests
	settings []string

	run  *exec.Cmd
	hold io.Closer // while it is open the server runs
}

// Start makes a database cluster and starts a server for it. It needs the
// programs initdb and postgres, on the path or where Debian puts them. As root
// it runs them as the user postgres or nobody: PostgreSQL refuses to be root.
// Settings are written like fsync=off, which is quicker and loses nothing as long as the
// computer itself goes on.
func Start(ctx context.Context, settings ...string) (*Server, error) {
	initdb, err := Program("initdb")
	if err != nil {
		return nil, err
	}
	// Not below TMPDIR: the path of a socket may be 107 bytes long.
	dir, err := os.MkdirTemp("/tmp", "trial-pg-")
	if err != nil {
		return nil, err
	}
	s := &Server{dir: dir, bin: filepath.Dir(initdb), settings: settings}
	if err := s.make(ctx); err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	if err := s.Resume(ctx); err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	return s, nil
}

// Program finds a program of PostgreSQL.
func Program(name string) (string, error) {
	if path, err := exec.LookPath(name); err == nil {
		return filepath.EvalSymlinks(path)
	}
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/" + name)
	if err != nil || len(found) == 0 {
		return "", fmt.Errorf("%s is not on this machine (Debian: postgresql)", name)
	}
	return slices.Max(found), nil
}

func (s *Server) make(ctx context.Context) error {
	if err := s.giveAway(); err != nil {
		return err
	}
	secret := filepath.Join(s.dir, "password")
	if err := os.WriteFile(secret, []byte(Password+"\n"), 0o644); err != nil {
		return err
	}
	c := s.command(ctx, "initdb", "-D", s.data(), "-U", "office", "-E", "UTF8", "--locale=C",
		"--data-checksums", "--no-sync", "--auth-local=trust", "--auth-host=scram-sha-256", "--pwfile", secret)
	if out, err := c.CombinedOutput(); err != nil {
		return fmt.Errorf("initdb: %w\n%s", err, out)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	s.port = l.Addr().(*net.TCPAddr).Port
	return l.Close()
}

// giveAway lets the user that runs the server have the folder.
func (s *Server) giveAway() error {
	if os.Geteuid() != 0 {
		return nil
	}
	who, err := user.Lookup("postgres")
	if err != nil {
		if who, err = user.Lookup("nobody"); err != nil {
			return err
		}
	}
	uid, uidErr := strconv.Atoi(who.Uid)
	gid, gidErr := strconv.Atoi(who.Gid)
	s.owner = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
	return errors.Join(uidErr, gidErr, os.Chown(s.dir, uid, gid))
}

func (s *Server) data() string { return filepath.Join(s.dir, "data") }

func (s *Server) command(ctx context.Context, name string, args ...string) *exec.Cmd {
	c := exec.CommandContext(ctx, filepath.Join(s.bin, name), args...)
	s.dress(c)
	return c
}

func (s *Server) dress(c *exec.Cmd) {
	c.Dir = s.dir
	c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Credential: s.owner}
}

// whileHeld ends the server when nobody holds its standard input any more, so
// that a test that is killed leaves no server behind.
const whileHeld = `"$@" </dev/null & server=$!; cat >/dev/null; kill -INT $server 2>/dev/null; wait $server`

// Resume starts the server and waits until it lets people in.
func (s *Server) Resume(ctx context.Context) error {
	args := []string{"-c", whileHeld, "sh", filepath.Join(s.bin, "postgres"), "-D", s.data(),
		"-k", s.dir, "-h", "127.0.0.1", "-p", strconv.Itoa(s.port), "-c", "max_connections=60"}
	for _, o := range s.settings {
		args = append(args, "-c", o)
	}
	c := exec.Command("/bin/sh", args...)
	s.dress(c)
	log, err := os.OpenFile(filepath.Join(s.dir, "log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer log.Close()
	c.Stdout, c.Stderr = log, log
	if s.hold, err = c.StdinPipe(); err != nil {
		return err
	}
	if err := c.Start(); err != nil {
		return err
	}
	s.run = c
	return s.wait(ctx)
}

func (s *Server) wait(ctx context.Context) error {
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		c := s.command(ctx, "pg_isready", "-q", "-h", "127.0.0.1", "-p", strconv.Itoa(s.port))
		if c.Run() == nil {
			return nil
		}
	}
	log, _ := os.ReadFile(filepath.Join(s.dir, "log"))
	return errors.Join(fmt.Errorf("the server does not start: %s", bytes.TrimSpace(log)), s.Close())
}

// Crash ends the server at once, in the middle of whatever it does.
func (s *Server) Crash(ctx context.Context) error {
	out, err := s.command(ctx, "pg_ctl", "-D", s.data(), "stop", "-m", "immediate").CombinedOutput()
	if err != nil {
		return fmt.Errorf("pg_ctl: %w\n%s", err, out)
	}
	return s.end()
}

func (s *Server) end() error {
	if s.run == nil {
		return nil
	}
	err := s.hold.Close()
	_ = s.run.Wait() // its exit code says how it was ended, which is known
	s.run = nil
	return err
}

// Close ends the server and removes its folder.
func (s *Server) Close() error { return errors.Join(s.end(), os.RemoveAll(s.dir)) }

// Address is that of a database on the server, with the password.
func (s *Server) Address(database string) string {
	return fmt.Sprintf("postgres://office:%s@%s/%s?sslmode=disable", strings.ReplaceAll(Password, " ", "%20"),
		s.Host(), database)
}

// Host is host and port.
func (s *Server) Host() string { return net.JoinHostPort("127.0.0.1", strconv.Itoa(s.port)) }

// Query runs a statement with psql, as the owner of everything, and gives what
// it printed.
func (s *Server) Query(ctx context.Context, database, text string) (string, error) {
	out, err := s.command(ctx, "psql", "-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1", "-h", s.dir,
		"-p", strconv.Itoa(s.port),
		"-U", "office", "-d", database, "-c", text).CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("psql: %w\n%s", err, out)
	}
	return strings.TrimSpace(string(out)), nil
}

// Database makes an empty database.
func (s *Server) Database(ctx context.Context, name string) error {
	_, err := s.Query(ctx, "postgres", "CREATE DATABASE "+name)
	return err
}
