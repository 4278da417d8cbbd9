package vector_test

import (
	"fmt"

	"groundsheet/tiles/vector"
)

func ExampleRead() {
	table := "lat,lon\n40.00,-105.00\n40.00,-104.99\n40.01,-104.99\n"
	features, info, err := vector.Read(vector.File{Name: "dig.csv", Data: []byte(table)}, vector.Areas)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(info.Format, features[0].Geometry)
	_, _, err = vector.Read(vector.File{Name: "dig.csv", Data: []byte("lat,lon\n40,-105\nforty,-105\n")}, vector.Areas)
	fmt.Println(err)
	// Output:
	// CSV [[[-105 40] [-104.99 40] [-104.99 40.01] [-105 40]]]
	// line 3: "forty" is not a latitude in degrees; fix these rows; a coordinate is like -105.0456, 105°02'44.2"W or W105 2.737
}
