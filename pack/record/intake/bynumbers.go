package intake

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"groundsheet/tiles/vector"
	"groundsheet/tiles/words"
)

// byNumbers tries pairs of columns, the easting or longitude first, and takes the
// one that puts the most rows near the job, at least half of them.
func (p *proposer) byNumbers(s vector.Sheet, pairs [][2]int) located {
	best, most := located{columns: map[string]int{}}, 0
	for _, pair := range pairs {
		for _, meanings := range [][2]string{{"longitude", "latitude"}, {"easting", "northing"}} {
			if (meanings[0] == "longitude") != (max(typical(s, pair[0]), typical(s, pair[1])) <= 180) {
				continue
			}
			columns := map[string]int{meanings[0]: pair[0], meanings[1]: pair[1]}
			n, of, inGrid := 0, 0, false
			if meanings[0] == "longitude" {
				n, of = p.near(s, positionsOf(s, columns))
			} else if p.out.meta.EPSG != 0 {
				n, of = p.near(s, positionsOf(s, columns))
			} else if fits := p.gridFits(s, columns, "", 0); len(fits) > 0 {
				n, of = fits[0].near, fits[0].of
			} else if len(p.gridSystems(s, columns, "")) > 0 {
				of = len(middleOf(s, pair[0], pair[1]))
				n, inGrid = of, true
			}
			if n*2 >= of && n > most {
				most = n
				best = located{columns, Fits, words.Say("intake.by_numbers", "n", n, "of", of)}
				if inGrid {
					best.why = words.Say("intake.by_grid")
				}
			}
		}
	}
	return best
}

// typical is the middle one of the sizes of the numbers of a column; infinite of none.
func typical(s vector.Sheet, column int) float64 {
	var all []float64
	for _, row := range s.Rows[:min(len(s.Rows), tried)] {
		if column < len(row.Cells) {
			if v, ok := plainNumber(row.Cells[column]); ok {
				all = append(all, math.Abs(v))
			}
		}
	}
	if len(all) == 0 {
		return math.Inf(1)
	}
	return slices.Sorted(slices.Values(all))[len(all)/2]
}

// plainNumber is a cell that is a number with a decimal point or comma.
func plainNumber(cell string) (float64, bool) {
	v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(cell), ",", ".", 1), 64)
	return v, err == nil && !math.IsInf(v, 0) && !math.IsNaN(v)
}

// mostPairs bounds the pairs of columns that are tried.
const mostPairs = 400

// pairs are all pairs of columns that hold numbers in most of the first rows.
func pairs(s vector.Sheet) (all [][2]int) {
	var numeric []int
	for i := range s.Header {
		n, of := 0, 0
		for _, row := range s.Rows[:min(len(s.Rows), tried)] {
			if i < len(row.Cells) && strings.TrimSpace(row.Cells[i]) != "" {
				of++
				if _, ok := plainNumber(row.Cells[i]); ok {
					n++
				}
			}
		}
		if n > 0 && n*2 >= of {
			numeric = append(numeric, i)
		}
	}
	for _, a := range numeric {
		for _, b := range numeric {
			if a != b && len(all) < mostPairs {
				all = append(all, [2]int{a, b})
			}
		}
	}
	return all
}
