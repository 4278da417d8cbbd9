package health

import (
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"testing/fstest"
)

// tree is a folder as Linux has it, from lines "supply/property value".
func tree(lines string) fstest.MapFS {
	fs := fstest.MapFS{}
	for line := range strings.SplitSeq(strings.TrimSpace(lines), "\n") {
		name, value, _ := strings.Cut(strings.TrimSpace(line), " ")
		fs[name] = &fstest.MapFile{Data: []byte(value + "\n")}
	}
	return fs
}

func ptr[T any](v T) *T { return &v }

// TestReadPower: trees written after Documentation/ABI/testing/sysfs-class-power.
func TestReadPower(t *testing.T) {
	yes, no := true, false
	for name, c := range map[string]struct {
		tree string
		want Power
	}{
		"laptop on its battery": {`AC/type Mains
			AC/online 0
			BAT0/type Battery
			BAT0/present 1
			BAT0/status Discharging
			BAT0/capacity 73
			BAT0/energy_now 30000000
			BAT0/power_now 12000000`, Power{[]Battery{{"BAT0", ptr(73), "discharging", ptr(int64(9000))}}, &no}},
		"charge instead of energy, current with a sign": {`BAT0/type Battery
			BAT0/status Discharging
			BAT0/capacity 50
			BAT0/charge_now 2000000
			BAT0/current_now -1000000`, Power{[]Battery{{"BAT0", ptr(50), "discharging", ptr(int64(7200))}}, nil}},
		"charging": {`ADP1/type Mains
			ADP1/online 1
			usb/type USB
			usb/online 0
			BAT1/type Battery
			BAT1/status Charging
			BAT1/capacity 9
			BAT1/energy_now 1000
			BAT1/power_now 1000`, Power{[]Battery{{"BAT1", ptr(9), "charging", nil}}, &yes}},
		"mouse, and a bay that is empty": {`hid/type Battery
			hid/scope Device
			hid/capacity 12
			BAT1/type Battery
			BAT1/present 0`, Power{}},
		"little told": {`BAT0/type Battery
			BAT0/status Unknown
			BAT0/capacity lots`, Power{[]Battery{{"BAT0", nil, "", nil}}, nil}},
		"hardly any current": {`BAT0/type Battery
			BAT0/status Discharging
			BAT0/capacity 100
			BAT0/energy_now 30000000
			BAT0/power_now 1`, Power{[]Battery{{"BAT0", ptr(100), "discharging", nil}}, nil}},
		"impossible": {`BAT0/type Battery
			BAT0/capacity 900`, Power{[]Battery{{"BAT0", nil, "", nil}}, nil}},
	} {
		if got := ReadPower(tree(c.tree)); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %+v, want %+v", name, got, c.want)
		}
	}
	if got := ReadPower(os.DirFS(filepath.Join(t.TempDir(), "none"))); got.Batteries != nil || got.Mains != nil {
		t.Errorf("no such folder: %+v", got)
	}
	ReadPower(nil) // whatever this machine has
}

func TestFree(t *testing.T) {
	free, size, ok := Free(t.TempDir())
	if !ok {
		t.Log("this system does not tell")
		return
	}
	if free < 0 || size <= 0 || free > size {
		t.Errorf("%d of %d", free, size)
	}
	if _, _, ok := Free(filepath.Join(t.TempDir(), "none")); ok {
		t.Error("a path that is not there has room")
	}
	// df of coreutils, where it is there, is asked for the same disk.
	out, err := exec.Command("df", "-B1", "--output=size", t.TempDir()).Output()
	if err != nil {
		return
	}
	if _, text, _ := strings.Cut(string(out), "\n"); strings.TrimSpace(text) != "" {
		var want int64
		for _, c := range strings.TrimSpace(text) {
			want = want*10 + int64(c-'0')
		}
		if want != size {
			t.Errorf("size %d, df says %d", size, want)
		}
	}
}
