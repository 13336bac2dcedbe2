package validate

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/sampling"
)

// A Plot is a made field in which every plant is known, in places where a scout can
// stop, each a block of Wide x High plants.
type Plot struct {
	Along, Across int // places
	Wide, High    int // plants of a place
	Share         float64
	Scouts        []PlotScout
	infested      []bool
}

// A PlotScout is one scout's visit to a plot.
type PlotScout struct {
	Places [][2]int // along and across, from 0
	Seen   float64  // the share of the plants seen that is infested
}

// Infested reports whether the plant in a column and a row is infested.
func (p *Plot) Infested(x, y int) bool { return p.infested[y*p.Along*p.Wide+x] }

// The plot's places and plants, and how near its own share comes to the one asked for
// before it is taken: a plot is made anew until then, and the nearest taken at last.
const (
	plotAlong, plotAcross, plotWide, plotHigh = 12, 10, 5, 4
	plotPlants                                = plotWide * plotHigh
	plotNear                                  = 0.0025
	plotTries                                 = 400
)

// MakePlot makes a plot of 120 places of 20 plants with a share of infested plants and
// an intraclass correlation rho between the plants of a place, beta-binomial over the
// places, and sends scouts through it, each to stops places of its own. The same seed
// gives the same plot. It errs on a share or a rho outside their ranges, and unless
// scouts is in 0..100 and stops in 1..120.
func MakePlot(share, rho float64, scouts, stops int, seed uint64) (*Plot, error) {
	if _, err := sampling.NewInfested(share, rho); err != nil {
		return nil, err
	}
	if scouts < 0 || scouts > 100 || stops < 1 || stops > plotAlong*plotAcross {
		return nil, fmt.Errorf("validate: a plot with %d scouts of %d stops; accepted are up to 100 scouts and 1 to %d stops", scouts, stops, plotAlong*plotAcross)
	}
	r := newRand(seed, plotStream, 0)
	var best *Plot
	for range plotTries {
		p := newPlot(share, rho, r)
		if best == nil || math.Abs(p.Share-share) < math.Abs(best.Share-share) {
			best = p
		}
		if math.Abs(best.Share-share) < plotNear {
			break
		}
	}
	for range scouts {
		var s PlotScout
		seen := 0
		for _, at := range r.Perm(plotAlong * plotAcross)[:stops] {
			x, y := at%plotAlong, at/plotAlong
			s.Places = append(s.Places, [2]int{x, y})
			for i := range plotWide {
				for j := range plotHigh {
					if best.Infested(x*plotWide+i, y*plotHigh+j) {
						seen++
					}
				}
			}
		}
		s.Seen = float64(seen) / float64(stops*plotPlants)
		best.Scouts = append(best.Scouts, s)
	}
	return best, nil
}

func newPlot(share, rho float64, r *rand.Rand) *Plot {
	p := &Plot{Along: plotAlong, Across: plotAcross, Wide: plotWide, High: plotHigh, infested: make([]bool, plotAlong*plotAcross*plotPlants)}
	total := 0
	for x := range plotAlong {
		for y := range plotAcross {
			own := share
			if rho > 0 && share > 0 && share < 1 {
				own = distuv.Beta{Alpha: share * (1/rho - 1), Beta: (1 - share) * (1/rho - 1), Src: r}.Rand()
			}
			for i := range plotWide {
				for j := range plotHigh {
					if r.Float64() < own {
						p.infested[(y*plotHigh+j)*plotAlong*plotWide+x*plotWide+i] = true
						total++
					}
				}
			}
		}
	}
	p.Share = float64(total) / float64(len(p.infested))
	return p
}
