package health

import (
	"io/fs"
	"os"
	"path"
	"strconv"
	"strings"
	"time"
)

// Battery is one battery that the machine runs on.
type Battery struct {
	Name      string
	Percent   int           // of what it can hold now; -1 = not told
	Status    string        // "charging", "discharging", "full", "not charging"; "" = unknown
	Remaining time.Duration // until empty at the rate of this moment; 0 = not told, or not discharging
}

// Power is what the machine is fed by.
type Power struct {
	Batteries []Battery // none: there is none, or the system does not tell
	Mains     *bool     // plugged in; nil = not told
}

// supplies is where Linux tells of batteries and plugs.
const supplies = "/sys/class/power_supply"

// ReadPower reads what Linux tells (Documentation/ABI/testing/sysfs-class-power
// of its source). root stands for /sys/class/power_supply; nil takes that
// folder. Where there is none, nothing is told.
func ReadPower(root fs.FS) Power {
	if root == nil {
		root = os.DirFS(supplies)
	}
	var p Power
	entries, err := fs.ReadDir(root, ".")
	if err != nil {
		return p
	}
	for _, e := range entries {
		s := supply{root, e.Name()}
		switch s.text("type") {
		case "Battery":
			if s.text("scope") != "Device" && s.text("present") != "0" { // not that of a mouse
				p.Batteries = append(p.Batteries, s.battery())
			}
		case "Mains", "USB", "Wireless":
			if online, ok := s.number("online"); ok {
				plugged := online > 0 || p.Mains != nil && *p.Mains
				p.Mains = &plugged
			}
		}
	}
	return p
}

// supply is one folder: a file for each property.
type supply struct {
	root fs.FS
	name string
}

// text gives a property; "" when it is not told.
func (s supply) text(property string) string {
	f, err := s.root.Open(path.Join(s.name, property))
	if err != nil {
		return ""
	}
	defer f.Close() //nolint:errcheck // it was only read
	line := make([]byte, 64)
	n, _ := f.Read(line) // what cannot be read is not told
	text, _, _ := strings.Cut(string(line[:max(n, 0)]), "\n")
	return strings.TrimSpace(text)
}

func (s supply) number(property string) (float64, bool) {
	v, err := strconv.ParseInt(s.text(property), 10, 64)
	return float64(v), err == nil
}

func (s supply) battery() Battery {
	b := Battery{Name: s.name, Percent: -1}
	if status := strings.ToLower(s.text("status")); status != "unknown" {
		b.Status = status
	}
	if percent, ok := s.number("capacity"); ok && percent >= 0 && percent <= 100 {
		b.Percent = int(percent)
	}
	if b.Status == "discharging" {
		b.Remaining = s.remaining()
	}
	return b
}

// longestRemaining is more than any battery of a laptop lasts: a rate near zero
// would say years.
const longestRemaining = 48 * time.Hour

// remaining is energy over power (µWh, µW), else charge over current (µAh, µA).
// Some drivers give the rate of discharging a sign.
func (s supply) remaining() time.Duration {
	for _, pair := range [][2]string{{"energy_now", "power_now"}, {"charge_now", "current_now"}} {
		held, ok := s.number(pair[0])
		rate, told := s.number(pair[1])
		if rate < 0 {
			rate = -rate
		}
		if !ok || !told || held <= 0 || rate <= 0 {
			continue
		}
		if hours := held / rate; hours < longestRemaining.Hours() {
			return time.Duration(hours * float64(time.Hour)).Round(time.Minute)
		}
	}
	return 0
}
