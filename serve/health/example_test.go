package health_test

import (
	"fmt"
	"testing/fstest"

	"groundsheet/serve/health"
)

func ExampleReadPower() {
	sysfs := fstest.MapFS{
		"BAT0/type":       {Data: []byte("Battery\n")},
		"BAT0/status":     {Data: []byte("Discharging\n")},
		"BAT0/capacity":   {Data: []byte("73\n")},
		"BAT0/energy_now": {Data: []byte("30000000\n")}, // µWh
		"BAT0/power_now":  {Data: []byte("12000000\n")}, // µW
	}
	for _, b := range health.ReadPower(sysfs).Batteries {
		fmt.Println(b.Name, *b.Percent, b.Status, *b.RemainingS)
	}
	// Output: BAT0 73 discharging 9000
}
