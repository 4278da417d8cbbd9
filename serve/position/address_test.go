package position

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
	} {
		a, err := ParseAddress(c.text)
		if err != nil || a.String() != c.full || a.Label() != c.label || a.Recorded() != strings.HasPrefix(c.text, "file:") {
			t.Errorf("%s: %v, %q, %q", c.text, err, a, a.Label())
		}
		if again, err := ParseAddress(a.String()); err != nil || again != a {
			t.Errorf("%s is not read as it is written: %v, %v", a, again, err)
		}
	}
	for _, wrong := range []string{
		"", "gps", "serial:", "serial:/dev/ttyUSB0?baud=fast", "serial:/dev/ttyUSB0?speed=9600", "serial:/dev/ttyUSB0?baud=9600&baud=4800", "serial:/dev/ttyUSB0?baud=0",
		"tcp:", "tcp:host", "tcp::9001", "tcp:host:0", "tcp:host:65536", "tcp:host:http", "udp:", "udp:port", "udp:host.example:10110", "file:", "file:?loop", "http://host/",
	} {
		if a, err := ParseAddress(wrong); err == nil {
			t.Errorf("%q became %v", wrong, a)
		} else if !strings.Contains(err.Error(), "write serial:") {
			t.Errorf("%q: %v does not say what to write", wrong, err)
		}
	}
}

func FuzzParseAddress(f *testing.F) {
	for _, s := range []string{"serial:/dev/ttyUSB0?baud=9600", "tcp:[::1]:1", "udp:1", "file:x?loop", "/dev/x?baud=4800"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		a, err := ParseAddress(text)
		if err != nil {
			return
		}
		if again, err := ParseAddress(a.String()); err != nil || again != a {
			t.Errorf("%q: %v became %v, %v", text, a, again, err)
		}
	})
}
