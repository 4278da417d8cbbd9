package main

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"time"

	"groundsheet/tiles"
)

// The tiles of the bench lie at one zoom, so many in a row.
const (
	benchZoom = 18
	benchWide = 500
)

// benchTile is the n-th tile of the bench, in tile order.
func benchTile(n int) tiles.ID {
	return tiles.ID{Z: benchZoom, X: uint32(40000 + n%benchWide), Y: uint32(90000 + n/benchWide)}
}

// pictures are the JPEGs that the tiles of the bench are made of, 9 to 27 KB
// each: invented grey noise on squares.
type pictures [][]byte

func newPictures() (pictures, error) {
	const kinds = 48
	r := rand.New(rand.NewPCG(18, 18))
	out := make(pictures, kinds)
	for i := range out {
		img := image.NewYCbCr(image.Rect(0, 0, 256, 256), image.YCbCrSubsampleRatio420)
		noise := 5 + i*15/16
		for k := range img.Y {
			img.Y[k] = byte(60 + (k>>5^k>>13)%7*16 + r.IntN(noise))
		}
		for k := range img.Cb {
			img.Cb[k], img.Cr[k] = byte(110+i), byte(130+k>>10)
		}
		var data bytes.Buffer
		if err := jpeg.Encode(&data, img, &jpeg.Options{Quality: 80}); err != nil {
			return nil, err
		}
		out[i] = data.Bytes()
	}
	return out, nil
}

// of is the image of a tile: one of the pictures with the tile's own comment
// (ISO/IEC 10918-1, B.2.4.5), so that no two tiles are the same.
func (p pictures) of(id tiles.ID) []byte {
	data, name := p[(id.X*7+id.Y*13)%uint32(len(p))], id.String()
	return slices.Concat(data[:2], []byte{0xff, 0xfe, 0, byte(len(name) + 2)}, []byte(name), data[2:])
}

// writeTiles writes z/x/y.jpg files and gives their mean length in bytes.
func writeTiles(dir string, n int) (mean float64, err error) {
	p, err := newPictures()
	if err != nil {
		return 0, err
	}
	total := 0
	for i := range n {
		id := benchTile(i)
		data := p.of(id)
		total += len(data)
		path := filepath.Join(dir, id.String()+".jpg")
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return 0, err
		}
		if err := os.WriteFile(path, data, 0o644); err != nil {
			return 0, err
		}
	}
	return float64(total) / float64(n), nil
}

// startNginx serves the tiles folder on a free port of loopback, with one
// worker, sendfile and connections that stay open.
func startNginx(ctx context.Context, dir string) (*background, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	addr := l.Addr().String()
	if err := l.Close(); err != nil {
		return nil, err
	}
	own := filepath.Join(dir, "nginx")
	if err := os.MkdirAll(own, 0o755); err != nil {
		return nil, err
	}
	conf := filepath.Join(own, "nginx.conf")
	text := fmt.Sprintf(`daemon off; master_process off; pid %[1]s/pid; error_log %[1]s/error.log;
events { worker_connections 256; }
http { access_log off; sendfile on; tcp_nopush on; keepalive_requests 1000000; types { image/jpeg jpg; }
 client_body_temp_path %[1]s/a; proxy_temp_path %[1]s/b; fastcgi_temp_path %[1]s/c; uwsgi_temp_path %[1]s/d; scgi_temp_path %[1]s/e;
 server { listen %[2]s; root %[3]s/tiles; expires 1h; } }
`, own, addr, dir)
	if err := os.WriteFile(conf, []byte(text), 0o644); err != nil {
		return nil, err
	}
	c := exec.CommandContext(ctx, "nginx", "-c", conf, "-p", own)
	if err := c.Start(); err != nil {
		return nil, fmt.Errorf("%w (Debian: nginx-light)", err)
	}
	s := &background{cmd: c, url: "http://" + addr}
	for range 100 {
		if conn, err := net.Dial("tcp", addr); err == nil {
			return s, conn.Close()
		}
		time.Sleep(50 * time.Millisecond)
	}
	log, _ := os.ReadFile(filepath.Join(own, "error.log"))
	return nil, fmt.Errorf("nginx does not answer: %s (%w)", log, s.stop())
}
