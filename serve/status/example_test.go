package status_test

import (
	"fmt"
	"time"

	"groundsheet/serve/status"
)

func ExampleErrorLog_Redact() {
	log := status.NewErrorLog(time.Now, []string{"/srv/packs/elm.mbtiles"})
	fmt.Println(log.Redact("/srv/packs/elm.mbtiles:\ncannot be read"))
	// Output: elm.mbtiles: cannot be read
}
