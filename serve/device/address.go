// Package device reads devices that speak to this computer, a receiver of positions or
// a locator: their bytes come from a serial port, TCP, UDP or a recording, and a device
// that was lost is tried again.
package device

import (
	"errors"
	"fmt"
	"net"
	"net/url"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"

	"groundsheet/tiles/fault"
)

// Address is where a device is reached. Make it with [ParseAddress]. It is comparable.
type Address struct {
	what   string // for people: "receiver"
	scheme string // serial, tcp, udp or file
	target string // path of the port or file; HOST:PORT
	baud   int
	loop   bool
	frame  string
}

const addressForms = "write serial:/dev/ttyUSB0?baud=9600 (or the port alone), tcp:HOST:PORT, udp:PORT, udp:ADDRESS:PORT, " +
	"or file:PATH for a recording (file:PATH?loop plays it again and again); " +
	"each takes the frame of its correction base as ?frame=NAME, after other settings &frame=NAME"

// ParseAddress reads an address as the operator writes it; the error has all forms.
// what names the device to people: "receiver". Whether anything is there shows only when
// a [Link] runs.
func ParseAddress(what, text string) (Address, error) {
	a := Address{what: what}
	if err := a.parse(text); err != nil {
		return Address{}, &fault.Fault{Place: strconv.Quote(text), Err: err, Remedy: addressForms}
	}
	return a, nil
}

func (a *Address) parse(text string) error {
	a.scheme, a.target, _ = strings.Cut(text, ":")
	if strings.HasPrefix(text, "/dev/") || runtime.GOOS == "windows" && strings.HasPrefix(text, "COM") {
		a.scheme, a.target = "serial", text
	}
	if a.scheme == "serial" {
		a.baud = 9600
	}
	query := ""
	if i := a.settingsStart(); i >= 0 {
		a.target, query = a.target[:i], a.target[i+1:]
	}
	settings, err := url.ParseQuery(query)
	if err != nil {
		return err
	}
	for name, values := range settings {
		if err := a.set(name, values); err != nil {
			return err
		}
	}
	switch a.scheme {
	case "serial", "file":
		if a.target == "" {
			return errors.New("the port or the file is missing")
		}
		return nil
	case "tcp", "udp":
		return a.parseHostPort()
	}
	return fmt.Errorf("this is no way to a %s", a.what)
}

// set applies one setting.
func (a *Address) set(name string, values []string) (err error) {
	value := strings.Join(values, ", ")
	switch {
	case name == "frame":
		if a.frame = value; !frameName.MatchString(value) {
			return errors.New("a frame is one name, such as frame=NAD83(2011)")
		}
	case name == "baud" && a.scheme == "serial":
		if a.baud, err = strconv.Atoi(value); err != nil || a.baud < 300 || a.baud > 4_000_000 {
			return errors.New("baud is one number from 300 to 4000000")
		}
	case name == "loop" && a.scheme == "file":
		a.loop = true
	default:
		return fmt.Errorf("it has no setting %q", name)
	}
	return nil
}

// frameName matches names such as "NAD83(2011)" and "WGS 84 (G2139)".
var frameName = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9 ().:_/-]{0,39}$`)

// settingsStart returns the index of the question mark before the settings, -1 if there are
// none. A file may have a question mark in its name.
func (a *Address) settingsStart() int {
	if a.scheme != "file" {
		return strings.IndexByte(a.target, '?')
	}
	i := strings.LastIndexByte(a.target, '?')
	settings, err := url.ParseQuery(a.target[i+1:])
	if err != nil || !settings.Has("frame") && settings.Encode() != "loop=" {
		return -1
	}
	return i
}

func (a *Address) parseHostPort() error {
	if a.scheme == "udp" && !strings.Contains(a.target, ":") {
		a.target = ":" + a.target
	}
	host, port, err := net.SplitHostPort(a.target)
	n, badPort := strconv.ParseUint(port, 10, 16)
	if err != nil || badPort != nil || a.scheme == "tcp" && (n == 0 || host == "") {
		return errors.New("host and port are missing")
	}
	if a.scheme == "udp" && host != "" && net.ParseIP(host) == nil {
		return errors.New("udp takes a numeric address of this computer, or the port alone")
	}
	return nil
}

// String returns the address in full.
func (a Address) String() string {
	text, separator := a.scheme+":"+a.target, "?"
	add := func(setting string) { text, separator = text+separator+setting, "&" }
	if a.scheme == "serial" {
		add("baud=" + strconv.Itoa(a.baud))
	}
	if a.loop {
		add("loop")
	}
	if a.frame != "" {
		add("frame=" + strings.ReplaceAll(a.frame, " ", "+"))
	}
	return text
}

// Frame returns the reference frame of corrected positions, which is that of the
// correction base, as the operator stated it; "" if it is not stated.
func (a Address) Frame() string { return a.frame }

// Label returns what phones show for the device. It holds no folders of this computer.
func (a Address) Label() string {
	switch a.scheme {
	case "serial":
		return "serial port " + filepath.Base(a.target)
	case "tcp":
		return "network " + a.what + " " + a.target
	case "udp":
		return "network " + a.what + " on UDP port " + a.target[strings.LastIndexByte(a.target, ':')+1:]
	case "file":
		return "recording " + filepath.Base(a.target)
	}
	return ""
}

// IsRecording reports whether the address is a recording, of which nothing is ever live.
func (a Address) IsRecording() bool { return a.scheme == "file" }
