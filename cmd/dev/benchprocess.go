package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// spent is what one measured process took.
type spent struct {
	wall, cpu     time.Duration
	peak, written float64 // MB resident at most, MB written to the disk; 0 = the system does not say
}

// timed runs a command from its start to its end. What earlier runs wrote is on
// the disk first, so that nobody pays for another's writing.
func timed(c *exec.Cmd) (spent, error) {
	_ = exec.CommandContext(context.Background(), "sync").Run() // where there is none the figures are noisier
	var complaint bytes.Buffer
	c.Stderr = &complaint
	began := time.Now()
	err := c.Run()
	took := spent{wall: time.Since(began)}
	if err != nil {
		return took, fmt.Errorf("%s: %w: %s", filepath.Base(c.Path), err, strings.TrimSpace(complaint.String()))
	}
	took.cpu = c.ProcessState.UserTime() + c.ProcessState.SystemTime()
	took.peak, took.written = usage(c.ProcessState)
	return took, nil
}

// background is a server in a process of its own.
type background struct {
	cmd *exec.Cmd
	url string
}

func (s *background) kill() {
	_ = s.cmd.Process.Kill()
	_ = s.cmd.Wait() // "signal: killed"
}

// startServer starts a command that prints the address it serves at after a word.
func startServer(ctx context.Context, word, command string, args ...string) (*background, error) {
	s := &background{cmd: exec.CommandContext(ctx, command, args...)}
	s.cmd.Stderr = os.Stderr
	out, err := s.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := s.cmd.Start(); err != nil {
		return nil, err
	}
	for lines := bufio.NewScanner(out); lines.Scan(); {
		if url, ok := strings.CutPrefix(strings.TrimSpace(lines.Text()), word); ok {
			url, _, _ = strings.Cut(strings.TrimSpace(url), " ")
			s.url = strings.TrimSuffix(url, "/")
			return s, nil
		}
	}
	s.kill()
	return nil, fmt.Errorf("%s %s ended before it served", filepath.Base(command), strings.Join(args, " "))
}

// startNginx serves the folder "tiles" of dir on a free port of loopback, with
// one worker, sendfile and connections that stay open.
func startNginx(ctx context.Context, dir string) (*background, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	addr := l.Addr().String()
	own := filepath.Join(dir, "nginx")
	if err := os.MkdirAll(own, 0o755); err != nil {
		return nil, err
	}
	conf := fmt.Sprintf(`daemon off; master_process off; pid %[1]s/pid; error_log stderr;
events { worker_connections 256; }
http { access_log off; sendfile on; tcp_nopush on; keepalive_requests 1000000; types { image/jpeg jpg; }
 client_body_temp_path %[1]s/a; proxy_temp_path %[1]s/b; fastcgi_temp_path %[1]s/c; uwsgi_temp_path %[1]s/d; scgi_temp_path %[1]s/e;
 server { listen %[2]s; root %[3]s/tiles; expires 1h; } }
`, own, addr, dir)
	if err := os.WriteFile(filepath.Join(own, "nginx.conf"), []byte(conf), 0o644); err != nil {
		return nil, err
	}
	s := &background{cmd: exec.CommandContext(ctx, "nginx", "-c", filepath.Join(own, "nginx.conf"), "-p", own), url: "http://" + addr}
	if err := l.Close(); err != nil {
		return nil, err
	}
	if err := s.cmd.Start(); err != nil {
		return nil, fmt.Errorf("%w (Debian: nginx-light)", err)
	}
	for range 100 {
		if conn, err := net.Dial("tcp", addr); err == nil {
			return s, conn.Close()
		}
		time.Sleep(50 * time.Millisecond)
	}
	s.kill()
	return nil, fmt.Errorf("nginx does not answer at %s", addr)
}
