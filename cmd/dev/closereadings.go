package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
)

// closeOverlay is what closeReadings adds to a job.
const closeOverlay = `
[[overlay]]
file = "overlays/close.csv"
title = "Gas readings, close together (invented)"
utility = "gas"
quality_level = "B"
recorded = 2026-11-18
owner = "own crew (invented)"
record = "field readings"
datum = "WGS 84"
`

// closeReadings gives the job of a demo a dig area of two acres, and 292 readings along
// three gas lines, 2.7 and 2.9 ft apart.
func (d demoRun) closeReadings() error {
	const half = 45.0
	west, south, east, north := demoLon-half*meterEast, demoLat-half*meterNorth, demoLon+half*meterEast, demoLat+half*meterNorth
	area := fmt.Sprintf(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"Dig area (invented)"},"geometry":{"type":"Polygon","coordinates":[[[%[1]v,%[2]v],[%[3]v,%[2]v],[%[3]v,%[4]v],[%[1]v,%[4]v],[%[1]v,%[2]v]]]}}]}`, west, south, east, north)
	var b strings.Builder
	b.WriteString("Point,Latitude,Longitude,Line,Depth (ft-in),Accuracy (in),Current (mA),Frequency (Hz),Time\n")
	n := 0
	for i, run := range []struct {
		readings            int
		step, x, y, azimuth float64 // meters and radians from east
	}{{98, 0.823, -30, -38, 1.5}, {97, 0.884, -5, -40, 1.62}, {97, 0.823, 22, -39, 1.55}} {
		for j := range run.readings {
			away := float64(j) * run.step
			fmt.Fprintf(&b, "C%d,%.8f,%.8f,GR-%d,3-%d,3,9.5,8192,2026-11-18T%02d:%02d:00Z\n", n,
				demoLat+(run.y+away*math.Sin(run.azimuth))*meterNorth, demoLon+(run.x+away*math.Cos(run.azimuth))*meterEast, i+1, n%12, 16+n/60, n%60)
			n++
		}
	}
	for file, text := range map[string]string{"dig-area.geojson": area, filepath.Join("overlays", "close.csv"): b.String()} {
		if err := os.WriteFile(filepath.Join(d.site(), file), []byte(text), 0o644); err != nil {
			return err
		}
	}
	return d.addToJob(closeOverlay)
}

// closeInBrowser checks how readings look that lie close together.
func closeInBrowser(ctx context.Context, r repo) error {
	return withReadings(ctx, r, "close-readings", demoRun.closeReadings, func(base string) error {
		return r.runIn(ctx, r.path("serve", "web"), nil, "node", "test/close.mjs", "--url", base, "--shots", r.path(".cache", "shots"))
	})
}
