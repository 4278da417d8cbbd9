package device

import (
	"strings"
	"testing"
)

func TestParseAddress(t *testing.T) {
	for _, c := range []struct{ text, full, label string }{
		{"serial:/dev/ttyUSB0", "serial:/dev/ttyUSB0?baud=9600", "serial port ttyUSB0"},
		{"serial:/dev/ttyUSB0?baud=115200", "serial:/dev/ttyUSB0?baud=115200", "serial port ttyUSB0"},
		{"/dev/ttyACM0", "serial:/dev/ttyACM0?baud=9600", "serial port ttyACM0"},
		{"/dev/ttyACM0?baud=4800", "serial:/dev/ttyACM0?baud=4800", "serial port ttyACM0"},
		{"tcp:192.168.42.10:9001", "tcp:192.168.42.10:9001", "network receiver 192.168.42.10:9001"},
		{"tcp:[fe80::1]:9001", "tcp:[fe80::1]:9001", "network receiver [fe80::1]:9001"},
		{"udp:10110", "udp::10110", "network receiver on UDP port 10110"},
		{"udp:127.0.0.1:10110", "udp:127.0.0.1:10110", "network receiver on UDP port 10110"},
		{"file:/home/somebody/walk.nmea", "file:/home/somebody/walk.nmea", "recording walk.nmea"},
		{"file:walk.nmea?loop", "file:walk.nmea?loop", "recording walk.nmea"},
		{"serial:/dev/ttyUSB0?frame=NAD83(2011)&baud=4800", "serial:/dev/ttyUSB0?baud=4800&frame=NAD83(2011)", "serial port ttyUSB0"},
		{"/dev/ttyUSB0?frame=WGS+84", "serial:/dev/ttyUSB0?baud=9600&frame=WGS+84", "serial port ttyUSB0"},
		{"tcp:[fe80::1]:9001?frame=ITRF2020", "tcp:[fe80::1]:9001?frame=ITRF2020", "network receiver [fe80::1]:9001"},
		{"udp:10110?frame=WGS 84 (G2139)", "udp::10110?frame=WGS+84+(G2139)", "network receiver on UDP port 10110"},
		{"udp:10110?frame=a:b", "udp::10110?frame=a:b", "network receiver on UDP port 10110"},
		{"file:walk.nmea?frame=NAD83(2011)", "file:walk.nmea?frame=NAD83(2011)", "recording walk.nmea"},
		{"file:walk.nmea?frame=NAD83(2011)&loop", "file:walk.nmea?loop&frame=NAD83(2011)", "recording walk.nmea"},
		{"file:walk?loopy", "file:walk?loopy", "recording walk?loopy"},
	} {
		a, err := ParseAddress("receiver", c.text)
		if err != nil || a.String() != c.full || a.Label() != c.label || a.IsRecording() != strings.HasPrefix(c.text, "file:") {
			t.Errorf("%s: %v, %q, %q", c.text, err, a, a.Label())
		}
		if named := strings.Contains(c.text, "frame="); named != (a.Frame() != "") {
			t.Errorf("%s: frame %q", c.text, a.Frame())
		}
		if again, err := ParseAddress("receiver", a.String()); err != nil || again != a {
			t.Errorf("%s is not read as it is written: %v, %v", a, again, err)
		}
	}
	for _, wrong := range []string{
		"", "gps", "serial:", "serial:/dev/ttyUSB0?baud=fast", "serial:/dev/ttyUSB0?speed=9600", "serial:/dev/ttyUSB0?baud=9600&baud=4800", "serial:/dev/ttyUSB0?baud=0",
		"tcp:", "tcp:host", "tcp::9001", "tcp:host:0", "tcp:host:65536", "tcp:host:http", "udp:", "udp:port", "udp:host.example:10110", "file:", "file:?loop", "tcp:host:9001?frame=", "tcp:host:9001?baud=9600", "udp:10110?frame=A&frame=B", "udp:10110?frame=<b>", "file:walk?frame=A&speed=2", "serial:/dev/x?frame=", "file:?frame=A", "http://host/",
	} {
		if a, err := ParseAddress("receiver", wrong); err == nil {
			t.Errorf("%q became %v", wrong, a)
		} else if !strings.Contains(err.Error(), "write serial:") {
			t.Errorf("%q: %v does not say what to write", wrong, err)
		}
	}
}

func FuzzParseAddress(f *testing.F) {
	for _, s := range []string{"serial:/dev/ttyUSB0?baud=9600", "tcp:[::1]:1", "udp:1", "file:x?loop", "file:x?loop&frame=A", "udp:1?frame=NAD83(2011)", "/dev/x?baud=4800"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		a, err := ParseAddress("receiver", text)
		if err != nil {
			return
		}
		if again, err := ParseAddress("receiver", a.String()); err != nil || again != a {
			t.Errorf("%q: %v became %v, %v", text, a, again, err)
		}
	})
}
