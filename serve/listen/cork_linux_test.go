package listen

import (
	"bytes"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strconv"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// corkedClient is a client of one connection to a server behind [cork], which
// answers /N with N bytes.
func corkedClient(t *testing.T) (ask func(n int) int, conn func() *net.TCPConn) {
	t.Helper()
	s := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		n, _ := strconv.Atoi(r.URL.Path[1:])
		w.Header()["Date"] = nil // what is measured has one length
		w.Header().Set("Content-Type", "image/jpeg")
		w.Header().Set("Content-Length", strconv.Itoa(n))
		_, _ = w.Write(bytes.Repeat([]byte{byte(n)}, n))
	}))
	s.Listener = cork(limitListener{s.Listener, newConnLimiter(usualLimits)})
	s.Start()
	t.Cleanup(s.Close)
	var dialed *net.TCPConn
	transport := &http.Transport{DialContext: nil, Dial: func(network, addr string) (net.Conn, error) { //nolint:staticcheck // one connection, kept
		c, err := net.Dial(network, addr)
		if err == nil {
			dialed = c.(*net.TCPConn)
		}
		return c, err
	}}
	t.Cleanup(transport.CloseIdleConnections)
	client := &http.Client{Transport: transport}
	ask = func(n int) int {
		res, err := client.Get(s.URL + "/" + strconv.Itoa(n))
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(res.Body)
		res.Body.Close()
		if err != nil || !bytes.Equal(body, bytes.Repeat([]byte{byte(n)}, n)) {
			t.Fatalf("%d bytes: got %d, %v", n, len(body), err)
		}
		head := len("HTTP/1.1 200 OK\r\n\r\n")
		for name, values := range res.Header {
			head += len(name) + len(": \r\n") + len(values[0])
		}
		return head + n
	}
	return ask, func() *net.TCPConn { return dialed }
}

// came counts the packets with data that reached c (tcp_info of linux/tcp.h).
func came(t *testing.T, c *net.TCPConn) uint32 {
	t.Helper()
	raw, err := c.SyscallConn()
	if err != nil {
		t.Fatal(err)
	}
	var info *unix.TCPInfo
	if told := raw.Control(func(fd uintptr) { info, err = unix.GetsockoptTCPInfo(int(fd), unix.IPPROTO_TCP, unix.TCP_INFO) }); told != nil || err != nil {
		t.Fatal(told, err)
	}
	return info.Data_segs_in
}

// TestCork: the head of a tile and the tile itself come as one packet, where a
// packet holds them (64 KB on loopback).
func TestCork(t *testing.T) {
	ask, conn := corkedClient(t)
	ask(1)
	const asked = 100
	before := came(t, conn())
	for range asked {
		ask(18000)
	}
	if got := came(t, conn()) - before; got > asked+asked/10 {
		t.Errorf("%d answers came in %d packets", asked, got)
	}
}

// TestCorkNothingFollows: an answer that fills the server's buffer to the last
// byte does not wait for one that never comes; the system would let it wait 200 ms.
func TestCorkNothingFollows(t *testing.T) {
	ask, _ := corkedClient(t)
	n := serverBuffer - 200
	for range 3 { // the number of digits belongs to the length
		n += serverBuffer - ask(n)
	}
	if whole := ask(n); whole != serverBuffer {
		t.Fatalf("an answer of %d bytes; the test wants %d", whole, serverBuffer)
	}
	const asked = 100
	began := time.Now()
	for range asked {
		ask(n)
	}
	if took := time.Since(began); took > asked*200*time.Millisecond/2 {
		t.Errorf("%d answers took %v", asked, took)
	}
}

// TestCorkAnyLength: what is sent is what comes, around the lengths where the
// server writes once, twice, or in between.
func TestCorkAnyLength(t *testing.T) {
	ask, _ := corkedClient(t)
	for _, around := range []int{0, 2048, serverBuffer, 2 * serverBuffer, 1 << 20} {
		for n := max(0, around-300); n < around+300; n += 7 {
			ask(n)
		}
	}
}
