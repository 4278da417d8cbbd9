package places

// bounds is a box in degrees.
type bounds struct{ south, north, west, east float64 }

// us are generous boxes round the United States: they take in strips of its
// neighbors and of the sea, because they only decide whether a place is
// plausible.
var us = []bounds{
	{24.3, 49.5, -125.2, -66.8},                    // contiguous
	{51, 71.6, -180, -129.9}, {51, 53.5, 172, 180}, // Alaska, and its islands beyond 180°
	{18.5, 28.7, -178.6, -154.5},                    // Hawaii
	{17.5, 18.8, -68.1, -64.4},                      // Puerto Rico, Virgin Islands
	{13, 20.8, 144.4, 146.3},                        // Guam, Northern Marianas
	{-14.8, -10.8, -171.3, -168},                    // American Samoa
	{19, 19.6, 166.4, 166.9}, {-1, 7, -177, -159.5}, // Wake; Baker, Howland, Jarvis, Kingman, Palmyra
	{28, 28.6, -177.6, -177}, {16.5, 17, -169.8, -169.2}, // Midway, Johnston
}

// InUS reports whether a place lies in or very near to the United States and
// its territories.
func InUS(lat, lon float64) bool {
	for _, b := range us {
		if lat >= b.south && lat <= b.north && lon >= b.west && lon <= b.east {
			return true
		}
	}
	return false
}

// MeantInUS gives the place in the United States that was likely meant by one
// that is not: with the minus of the longitude, or with both numbers in the
// other order. It is not ok where the place is in the United States as written,
// or no such mistake leads there.
func MeantInUS(lat, lon float64) (meantLat, meantLon float64, ok bool) {
	if InUS(lat, lon) {
		return lat, lon, false
	}
	for _, p := range [][2]float64{{lat, -lon}, {lon, lat}, {lon, -lat}, {-lat, lon}, {-lat, -lon}} {
		if InUS(p[0], p[1]) {
			return p[0], p[1], true
		}
	}
	return lat, lon, false
}
