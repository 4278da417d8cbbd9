package listen

import (
	"net"
	"syscall"
	"testing"
)

// TestUserTimeout: a connection inherits how soon a phone counts as lost.
func TestUserTimeout(t *testing.T) {
	l, err := (&net.ListenConfig{Control: setUserTimeout}).Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	phone, err := (&net.Dialer{}).DialContext(t.Context(), "tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer phone.Close()
	c, err := l.Accept()
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	raw, err := c.(*net.TCPConn).SyscallConn()
	if err != nil {
		t.Fatal(err)
	}
	var ms int
	if told := raw.Control(func(fd uintptr) { ms, err = syscall.GetsockoptInt(int(fd), syscall.IPPROTO_TCP, tcpUserTimeout) }); told != nil || err != nil {
		t.Fatal(told, err)
	}
	if ms != int(userTimeout.Milliseconds()) {
		t.Errorf("after %d ms", ms)
	}
}
