package position

import (
	"fmt"
	"net"
	"net/url"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
)

// Address is where a receiver is reached. Make it with [ParseAddress].
type Address struct {
	way  string // serial, tcp, udp or file
	at   string // path of the port or file; HOST:PORT
	baud int
	loop bool
}

// HowToWrite tells a person how an address is written.
const HowToWrite = "write serial:/dev/ttyUSB0?baud=9600 (or the port alone), tcp:HOST:PORT, udp:PORT, udp:ADDRESS:PORT, or file:PATH for a recording (file:PATH?loop plays it again and again)"

// ParseAddress reads an address as a person writes it; see [HowToWrite].
// Whether anything is there shows only when a [Feed] runs.
func ParseAddress(text string) (Address, error) {
	way, at, found := strings.Cut(text, ":")
	switch {
	case found && way == "serial":
		return serialAddress(text, at)
	case strings.HasPrefix(text, "/dev/") || runtime.GOOS == "windows" && strings.HasPrefix(text, "COM"):
		return serialAddress(text, text)
	case found && way == "tcp":
		return networkAddress(text, way, at)
	case found && way == "udp":
		if !strings.Contains(at, ":") {
			at = ":" + at
		}
		return networkAddress(text, way, at)
	case found && way == "file":
		path, loop := strings.CutSuffix(at, "?loop")
		if path == "" {
			return Address{}, fmt.Errorf("%q names no file; %s", text, HowToWrite)
		}
		return Address{way: way, at: path, loop: loop}, nil
	}
	return Address{}, fmt.Errorf("%q is no way to a receiver; %s", text, HowToWrite)
}

func serialAddress(text, at string) (Address, error) {
	a := Address{way: "serial", baud: 9600}
	path, query, _ := strings.Cut(at, "?")
	settings, err := url.ParseQuery(query)
	if path == "" || err != nil {
		return Address{}, fmt.Errorf("%q names no serial port; %s", text, HowToWrite)
	}
	a.at = path
	for name, values := range settings {
		baud, err := strconv.Atoi(values[0])
		if name != "baud" || len(values) > 1 || err != nil || baud < 300 || baud > 4_000_000 {
			return Address{}, fmt.Errorf("%q: a serial port takes one setting, baud from 300 to 4000000; %s", text, HowToWrite)
		}
		a.baud = baud
	}
	return a, nil
}

func networkAddress(text, way, at string) (Address, error) {
	host, port, err := net.SplitHostPort(at)
	n, bad := strconv.ParseUint(port, 10, 16)
	if err != nil || bad != nil || n == 0 && way == "tcp" || host == "" && way == "tcp" {
		return Address{}, fmt.Errorf("%q names no host and port; %s", text, HowToWrite)
	}
	if way == "udp" && host != "" && net.ParseIP(host) == nil {
		return Address{}, fmt.Errorf("%q: udp takes an address of this computer in numbers, or the port alone; %s", text, HowToWrite)
	}
	return Address{way: way, at: at}, nil
}

// String is the address as it is written in full.
func (a Address) String() string {
	s := a.way + ":" + a.at
	if a.way == "serial" {
		s += "?baud=" + strconv.Itoa(a.baud)
	}
	if a.loop {
		s += "?loop"
	}
	return s
}

// Label is what phones are told of the receiver: without folders of this
// computer.
func (a Address) Label() string {
	switch a.way {
	case "serial":
		return "serial port " + filepath.Base(a.at)
	case "tcp":
		return "network receiver " + a.at
	case "udp":
		_, port, _ := net.SplitHostPort(a.at) // ParseAddress saw to it
		return "network receiver on UDP port " + port
	case "file":
		return "recording " + filepath.Base(a.at)
	}
	return ""
}

// Recorded says whether the address is a recording, so that nothing of it is
// ever live.
func (a Address) Recorded() bool { return a.way == "file" }
