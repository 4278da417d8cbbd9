package position_test

import (
	"fmt"
	"time"

	"groundsheet/serve/device"
	"groundsheet/serve/position"
)

func ExampleDecoder() {
	d := position.NewDecoder(position.Options{})
	d.Write([]byte("$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n"), time.Now())
	fix, _ := d.Pending() // the receiver pauses after its burst
	fmt.Printf("%.4f %.4f %s, %.1f m by %s\n", fix.Lat, fix.Lon, fix.Kind, fix.Error, fix.Basis)
	// Output: 48.1173 11.5167 autonomous, 13.5 m by hdop
}

func ExampleParseAddress() {
	a, err := device.ParseAddress("receiver", "/dev/ttyUSB0?frame=NAD83(2011)")
	fmt.Println(a, a.Frame(), err)
	_, err = device.ParseAddress("receiver", "tcp:192.168.42.10")
	fmt.Println(err != nil)
	// Output:
	// serial:/dev/ttyUSB0?baud=9600&frame=NAD83(2011) NAD83(2011) <nil>
	// true
}
