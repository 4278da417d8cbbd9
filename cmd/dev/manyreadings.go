package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
)

// The middle of the demo's dig area, and about a meter there, in degrees.
const (
	demoLon, demoLat = -140.49674, 40.49860
	meterNorth       = 1.0 / 111_320
)

var meterEast = meterNorth / math.Cos(demoLat*math.Pi/180)

// manyOverlay is what manyReadings adds to a job.
const manyOverlay = `
[[overlay]]
file = "overlays/many.geojson"
title = "Readings without end (invented)"
utility = "gas"
quality_level = "B"
recorded = 2026-11-18
owner = "own crew (invented)"
record = "field readings"
`

// manyReadings gives the job of a demo n invented readings more: crooked lines
// half a meter from reading to reading, over 400 m of ground.
func (d demoRun) manyReadings(n int) error {
	r := rand.New(rand.NewPCG(6, 6))
	var b strings.Builder
	b.WriteString(`{"type":"FeatureCollection","features":[`)
	var x, y, course float64
	for i := range n {
		if i%500 == 0 { // another line
			x, y, course = (r.Float64()-0.5)*400, (r.Float64()-0.5)*400, r.Float64()*2*math.Pi
		}
		course += (r.Float64() - 0.5) * 0.1
		x, y = x+0.5*math.Cos(course), y+0.5*math.Sin(course)
		if math.Abs(x) > 200 || math.Abs(y) > 200 {
			course += math.Pi / 2
		}
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, `{"type":"Feature","properties":{"depth":"%.1fft","accuracy":"3in","frequency_hz":8192,"current_ma":%d,"date":"2026-11-18T15:%02d:00Z","label":"%d"},"geometry":{"type":"Point","coordinates":[%.8f,%.8f]}}`,
			2+3*r.Float64(), 5+r.IntN(90), i/2%60, i, demoLon+x*meterEast, demoLat+y*meterNorth)
	}
	b.WriteString("]}")
	if err := os.WriteFile(filepath.Join(d.site(), "overlays", "many.geojson"), []byte(b.String()), 0o644); err != nil {
		return err
	}
	return d.addToJob(manyOverlay)
}

// addToJob adds tables to a demo's job.
func (d demoRun) addToJob(tables string) error {
	f, err := os.OpenFile(filepath.Join(d.site(), "job.toml"), os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	if _, err := f.WriteString(tables); err != nil {
		return err
	}
	return f.Close()
}
