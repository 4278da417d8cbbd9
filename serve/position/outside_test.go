//go:build outside

package position

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// theirs is what the reference reads in a sentence; what is absent is 0 or "".
type theirs struct {
	Type           string
	Valid          bool
	Lat, Lon       *float64
	Quality        string
	Status, Faa    string
	Fix            string
	Satellites     json.RawMessage
	Hdop, Alt      *float64
	LatitudeError  *float64
	LongitudeError *float64
	Time           string
}

// The names that the reference has for our kinds.
var (
	referenceKinds = map[string]FixKind{"fix": Autonomous, "pps-fix": Autonomous, "dgps-fix": Differential, "rtk": Fixed, "rtk-float": Float, "estimated": Estimated, "manual": Manual, "simulated": Simulator}
	modes          = map[string]FixKind{"autonomous": Autonomous, "differential": Differential, "rtk": Fixed, "rtk-float": Float, "estimated": Estimated, "manual input": Manual, "simulated": Simulator, "not valid": NoFix, "precise": Autonomous}
)

// Each kind of sentence with numbers by chance, some with a damaged checksum,
// against the npm package gps.
func TestOutsideNMEA(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	lines := chanceSentences(rng, 4000)
	input, err := json.Marshal(lines)
	if err != nil {
		t.Fatal(err)
	}
	node := exec.Command("node", "nmea.mjs")
	node.Dir, node.Stdin, node.Stderr = filepath.Join("..", "..", "testdata", "reference"), bytes.NewReader(input), os.Stderr
	out, err := node.Output()
	if err != nil {
		t.Fatal(err)
	}
	var all []theirs
	if err := json.Unmarshal(out, &all); err != nil || len(all) != len(lines) {
		t.Fatalf("%d readings for %d sentences, %v", len(all), len(lines), err)
	}
	compared := map[string]int{}
	for i, line := range lines {
		s, err := parseSentence(line)
		if (err == nil) != all[i].Valid {
			t.Errorf("%s: %v, the reference says valid %v", line, err, all[i].Valid)
		}
		if err != nil || !all[i].Valid {
			compared["damaged"]++
			continue
		}
		compared[s.kind]++
		if difference := compare(s, all[i]); difference != "" {
			t.Errorf("%s: %s; the reference: %+v", line, difference, all[i])
		}
	}
	for _, kind := range []string{"GGA", "RMC", "GST", "GSA", "damaged"} {
		if compared[kind] < 100 {
			t.Errorf("only %d of %s were compared", compared[kind], kind)
		}
	}
	t.Log(compared)
}

func chanceSentences(rng *rand.Rand, n int) []string {
	var lines []string
	for range n {
		clock := fmt.Sprintf("%02d%02d%02d.%02d", rng.IntN(24), rng.IntN(60), rng.IntN(60), rng.IntN(100))
		at := fmt.Sprintf("%02d%010.7f,%c,%03d%010.7f,%c", rng.IntN(90), rng.Float64()*59.9, "NS"[rng.IntN(2)], rng.IntN(180), rng.Float64()*59.9, "EW"[rng.IntN(2)])
		talker := []string{"GP", "GN", "GL", "GA", "GB"}[rng.IntN(5)]
		var body string
		switch rng.IntN(4) {
		case 0:
			body = fmt.Sprintf("%sGGA,%s,%s,%d,%02d,%.2f,%.3f,M,%.3f,M,,", talker, clock, at, 1+rng.IntN(8), rng.IntN(40), 0.3+rng.Float64()*20, rng.Float64()*4000-400, rng.Float64()*100-50)
		case 1:
			body = fmt.Sprintf("%sRMC,%s,%c,%s,%.2f,%.1f,%02d%02d%02d,,,%c", talker, clock, "AV"[rng.IntN(2)], at, rng.Float64()*30, rng.Float64()*359, 1+rng.IntN(28), 1+rng.IntN(12), rng.IntN(60), "ADEFMNRSP"[rng.IntN(9)])
		case 2:
			body = fmt.Sprintf("%sGST,%s,%.1f,,,,%.3f,%.3f,%.3f", talker, clock, rng.Float64()*50, 0.001+rng.Float64()*9, 0.001+rng.Float64()*9, rng.Float64()*9)
		case 3:
			body = fmt.Sprintf("%sGSA,A,%d,04,05,,09,12,,,24,,,,,%.2f,%.2f,%.2f", talker, 1+rng.IntN(3), rng.Float64()*9, 0.1+rng.Float64()*9, rng.Float64()*9)
		}
		line := with(body)
		if rng.IntN(8) == 0 {
			i := 7 + rng.IntN(len(line)-11)
			digit := strings.IndexByte("0123456789", line[i])
			if digit < 0 {
				continue
			}
			line = line[:i] + string("0123456789"[(digit+1)%10]) + line[i+1:]
		}
		lines = append(lines, line)
	}
	return lines
}

// compare says what is read in another way.
func compare(s sentence, r theirs) string {
	near := func(a float64, b *float64) bool { return b != nil && math.Abs(a-*b) < 1e-9*math.Max(1, math.Abs(a)) }
	same := func(c clock, date time.Time) bool {
		at, err := time.Parse(time.RFC3339, r.Time)
		return err == nil && at.Sub(at.Truncate(24*time.Hour)) == c.sinceMidnight && (date.IsZero() || at.Truncate(24*time.Hour).Equal(date))
	}
	f := fieldParser{sentence: s}
	switch s.kind {
	case "GGA":
		g, err := f.gga(), f.err
		var satellites int
		if json.Unmarshal(r.Satellites, &satellites) != nil || err != nil || g.satellites != satellites || !near(g.at.lat, r.Lat) || !near(g.at.lon, r.Lon) ||
			!near(g.hdop, r.Hdop) || !near(*g.altitude, r.Alt) || g.kind != referenceKinds[r.Quality] || !same(g.clock, time.Time{}) {
			return fmt.Sprintf("%+v, %v", g, err)
		}
	case "RMC":
		m, err := f.rmc(), f.err
		alone := rmc{valid: true, mode: m.mode}
		if err != nil || !near(m.at.lat, r.Lat) || !near(m.at.lon, r.Lon) || m.valid != (r.Status == "active") || alone.kind(false) != modes[r.Faa] || !same(m.clock, m.date) {
			return fmt.Sprintf("%+v, %v", m, err)
		}
	case "GST":
		g, err := f.gst(), f.err
		if err != nil || !near(g.lat, r.LatitudeError) || !near(g.lon, r.LongitudeError) || !same(g.clock, time.Time{}) {
			return fmt.Sprintf("%+v, %v", g, err)
		}
	case "GSA":
		a, err := f.gsa(), f.err
		dimensions := map[string]string{"": "1", "2D": "2", "3D": "3"}[r.Fix]
		if err != nil || a.dimensions != dimensions || !near(a.hdop, r.Hdop) {
			return fmt.Sprintf("%+v, %v", a, err)
		}
	}
	return ""
}
