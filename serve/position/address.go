package position

import (
	"fmt"
	"net"
	"net/url"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
)

// Address is where a receiver is reached. Make it with [ParseAddress].
type Address struct {
	way   string // serial, tcp, udp or file
	at    string // path of the port or file; HOST:PORT
	baud  int
	loop  bool
	frame string // of corrected positions, as a person stated it; "" for not stated
}

// addressForms tells a person how an address is written.
const addressForms = "write serial:/dev/ttyUSB0?baud=9600 (or the port alone), tcp:HOST:PORT, udp:PORT, udp:ADDRESS:PORT, or file:PATH for a recording (file:PATH?loop plays it again and again); each takes the frame of its correction base as ?frame=NAME, after other settings &frame=NAME"

// ParseAddress reads an address as a person writes it; see [addressForms].
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
		if port, _, _ := strings.Cut(at, "?"); !strings.Contains(port, ":") {
			at = ":" + at
		}
		return networkAddress(text, way, at)
	case found && way == "file":
		return fileAddress(text, at)
	}
	return Address{}, fmt.Errorf("%q is no way to a receiver; %s", text, addressForms)
}

// frames are names such as "NAD83(2011)" and "WGS 84 (G2139)".
var frames = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9 ().:_/-]{0,39}$`)

// readFrame takes the frame out of the settings of an address.
func readFrame(text string, settings url.Values) (string, error) {
	values, stated := settings["frame"]
	if !stated {
		return "", nil
	}
	delete(settings, "frame")
	if len(values) > 1 || !frames.MatchString(values[0]) {
		return "", fmt.Errorf("%q: a frame is one name, such as frame=NAD83(2011); %s", text, addressForms)
	}
	return values[0], nil
}

// fileAddress takes what stands after the last question mark as settings when
// it is nothing else; a file may have a question mark in its name.
func fileAddress(text, at string) (Address, error) {
	a := Address{way: "file", at: at}
	if cut := strings.LastIndex(at, "?"); cut >= 0 {
		settings, err := url.ParseQuery(at[cut+1:])
		_, framed := settings["frame"]
		if loop := settings["loop"]; err == nil && (framed || len(loop) == 1 && loop[0] == "" && len(settings) == 1) {
			a.at = at[:cut]
			if a.frame, err = readFrame(text, settings); err != nil {
				return Address{}, err
			}
			a.loop = settings.Has("loop")
			delete(settings, "loop")
			if len(settings) > 0 {
				return Address{}, fmt.Errorf("%q: a recording takes the settings loop and frame; %s", text, addressForms)
			}
		}
	}
	if a.at == "" {
		return Address{}, fmt.Errorf("%q names no file; %s", text, addressForms)
	}
	return a, nil
}

func serialAddress(text, at string) (Address, error) {
	a := Address{way: "serial", baud: 9600}
	path, query, _ := strings.Cut(at, "?")
	settings, err := url.ParseQuery(query)
	if path == "" || err != nil {
		return Address{}, fmt.Errorf("%q names no serial port; %s", text, addressForms)
	}
	a.at = path
	if a.frame, err = readFrame(text, settings); err != nil {
		return Address{}, err
	}
	for name, values := range settings {
		baud, err := strconv.Atoi(values[0])
		if name != "baud" || len(values) > 1 || err != nil || baud < 300 || baud > 4_000_000 {
			return Address{}, fmt.Errorf("%q: a serial port takes the settings frame and baud, from 300 to 4000000; %s", text, addressForms)
		}
		a.baud = baud
	}
	return a, nil
}

func networkAddress(text, way, at string) (Address, error) {
	at, query, _ := strings.Cut(at, "?")
	settings, wrong := url.ParseQuery(query)
	frame, err := readFrame(text, settings)
	if err != nil {
		return Address{}, err
	}
	if wrong != nil || len(settings) > 0 {
		return Address{}, fmt.Errorf("%q: a receiver on the network takes one setting, frame; %s", text, addressForms)
	}
	host, port, err := net.SplitHostPort(at)
	n, bad := strconv.ParseUint(port, 10, 16)
	if err != nil || bad != nil || n == 0 && way == "tcp" || host == "" && way == "tcp" {
		return Address{}, fmt.Errorf("%q names no host and port; %s", text, addressForms)
	}
	if way == "udp" && host != "" && net.ParseIP(host) == nil {
		return Address{}, fmt.Errorf("%q: udp takes an address of this computer in numbers, or the port alone; %s", text, addressForms)
	}
	return Address{way: way, at: at, frame: frame}, nil
}

// String is the address as it is written in full.
func (a Address) String() string {
	var settings []string
	if a.way == "serial" {
		settings = append(settings, "baud="+strconv.Itoa(a.baud))
	}
	if a.loop {
		settings = append(settings, "loop")
	}
	if a.frame != "" {
		settings = append(settings, "frame="+strings.ReplaceAll(a.frame, " ", "+"))
	}
	if len(settings) == 0 {
		return a.way + ":" + a.at
	}
	return a.way + ":" + a.at + "?" + strings.Join(settings, "&")
}

// Frame is the frame of reference of corrected positions, as a person stated
// it: that of the base of the corrections. "" when it is not stated.
func (a Address) Frame() string { return a.frame }

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

// IsRecording says whether the address is a recording, so that nothing of it is
// ever live.
func (a Address) IsRecording() bool { return a.way == "file" }
