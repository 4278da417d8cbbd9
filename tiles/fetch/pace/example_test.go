package pace_test

import (
	"context"
	"fmt"
	"time"

	"groundsheet/tiles/fetch/pace"
)

func Example() {
	l := pace.New(1000, 30*time.Second)
	for range 3 {
		sent, err := l.Wait(context.Background())
		if err != nil {
			fmt.Println(err)
			return
		}
		sent() // the request is written
	}
	_, slower := l.SlowDown(time.Now()) // the server answered 429
	s := l.State()
	fmt.Println(len(s.Left), slower, s.Share)
	// Output: 3 true 0.5
}
