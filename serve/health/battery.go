// Package health reads the condition of the machine: batteries, free disk space,
// and what this process uses. It leaves out what a system does not report.
package health

import (
	"bytes"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path"
	"runtime"
	"strconv"
	"strings"
	"time"
)

// Battery is one battery that powers the machine.
type Battery struct {
	Name       string `json:"name"`
	Percent    *int   `json:"percent"`     // of its present capacity; nil = not reported
	Status     string `json:"status"`      // "charging", "discharging", "full", "not charging"; "" = unknown
	RemainingS *int64 `json:"remaining_s"` // until empty at the current rate; nil = not reported, or not discharging
}

// Power is the power supply of the machine.
type Power struct {
	Batteries []Battery // empty if there is none or the system reports none
	Mains     *bool     // plugged in; nil = not reported
}

// ReadPower reads what Linux reports (Documentation/ABI/testing/sysfs-class-power
// of its source). root stands for /sys/class/power_supply; nil = that folder. Without
// it the result is empty.
func ReadPower(root fs.FS) (p Power) {
	if root == nil {
		root = os.DirFS("/sys/class/power_supply")
	}
	entries, _ := fs.ReadDir(root, ".")
	for _, e := range entries {
		s := supply{root, e.Name()}
		switch s.text("type") {
		case "Battery":
			if s.text("scope") != "Device" && s.text("present") != "0" { // not a mouse's
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

// supply is one folder with a file for each property.
type supply struct {
	root fs.FS
	name string
}

// text returns a property, "" if it cannot be read.
func (s supply) text(property string) string {
	body, _ := fs.ReadFile(s.root, path.Join(s.name, property))
	line, _, _ := strings.Cut(string(body), "\n")
	return strings.TrimSpace(line)
}

func (s supply) number(property string) (float64, bool) {
	v, err := strconv.ParseInt(s.text(property), 10, 64)
	return float64(v), err == nil
}

func (s supply) battery() Battery {
	b := Battery{Name: s.name}
	if status := strings.ToLower(s.text("status")); status != "unknown" {
		b.Status = status
	}
	if percent, ok := s.number("capacity"); ok && percent >= 0 && percent <= 100 {
		n := int(percent)
		b.Percent = &n
	}
	if b.Status == "discharging" {
		if left := int64(s.remaining().Seconds()); left > 0 {
			b.RemainingS = &left
		}
	}
	return b
}

// maxRemaining is more than any laptop lasts: a rate near zero would mean years.
const maxRemaining = 48 * time.Hour

// remaining is energy over power (µWh, µW), else charge over current (µAh, µA).
// Some drivers report the rate of discharging as negative.
func (s supply) remaining() time.Duration {
	for _, pair := range [][2]string{{"energy_now", "power_now"}, {"charge_now", "current_now"}} {
		left, ok1 := s.number(pair[0])
		rate, ok2 := s.number(pair[1])
		if hours := left / math.Abs(rate); ok1 && ok2 && hours > 0 && hours < maxRemaining.Hours() {
			return time.Duration(hours * float64(time.Hour)).Round(time.Minute)
		}
	}
	return 0
}

// Process is what this process uses.
type Process struct {
	Goroutines int   `json:"goroutines"`
	Files      int   `json:"open_files"`   // and connections; -1 = not reported
	Memory     int64 `json:"memory_bytes"` // its own, without mapped files; -1 = not reported
}

// ReadProcess counts. Only Linux reports files and memory (proc(5): /proc/self/fd,
// RssAnon of /proc/self/status).
func ReadProcess() Process {
	p := Process{Goroutines: runtime.NumGoroutine(), Files: -1, Memory: -1}
	if entries, err := os.ReadDir("/proc/self/fd"); err == nil {
		p.Files = len(entries) - 1 // without the folder itself
	}
	if status, err := os.ReadFile("/proc/self/status"); err == nil {
		p.Memory = anonymousBytes(status)
	}
	return p
}

// anonymousBytes finds RssAnon in a status file of proc(5).
func anonymousBytes(status []byte) int64 {
	_, after, found := bytes.Cut(status, []byte("\nRssAnon:"))
	var kib int64
	if _, err := fmt.Sscan(string(after), &kib); !found || err != nil {
		return -1
	}
	return kib << 10
}
