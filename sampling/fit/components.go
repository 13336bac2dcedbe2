package fit

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"stopwise/sampling/pilot"
)

// Components are the variance between the stops of a field and that between
// the plants of a stop, pooled over fields: each field has its own mean.
//
//	Var(mean of a field) = Between/stops + Within/(stops plants a stop)
//
// (Cochran, W.G. 1977, Sampling Techniques, ch. 10.)
type Components struct {
	Between, Within       float64 // variances; Between is 0 where its estimate is below 0
	MSBetween, MSWithin   float64 // mean squares
	DFBetween, DFWithin   int
	PlantsPerStop         float64 // n0: the average that counts where stops differ in size
	IntraclassCorrelation float64 // of two plants at a stop; may be negative, unlike Between
	F                     Test    // hypothesis: Between is 0. DF is DFBetween

	Missing string // why there are none; the numbers are then NaN
}

// Known reports whether the components could be estimated.
func (c Components) Known() bool { return c.Missing == "" }

// A group is one stop: how many plants, the sum of their values and of the
// squared deviations from the stop's own mean.
type group struct{ n, sum, within float64 }

func (c StopCount) group() group {
	n, x := float64(c.Plants), float64(c.Infested)
	return group{n, x, x - x*x/n}
}

// PlantComponents returns the variance components of plants being infested (1)
// or not (0).
func PlantComponents(fields [][]StopCount) Components {
	groups := make([][]group, len(fields))
	for i, stops := range fields {
		for _, s := range stops {
			groups[i] = append(groups[i], s.group())
		}
	}
	return components(groups)
}

// CountComponents returns the variance components of the plants' mean counts
// per leaf. It needs data with one row a leaf.
func CountComponents(fields []pilot.Field) Components {
	groups := make([][]group, len(fields))
	for i, f := range fields {
		for _, s := range f.Stops {
			groups[i] = append(groups[i], countGroup(s.PlantCounts))
		}
	}
	return components(groups)
}

func countGroup(plants []pilot.PlantCount) group {
	g := group{n: float64(len(plants))}
	for _, p := range plants {
		g.sum += float64(p.Insects) / float64(p.Leaves)
	}
	for _, p := range plants {
		d := float64(p.Insects)/float64(p.Leaves) - g.sum/g.n
		g.within += d * d
	}
	return g
}

// components is the analysis of variance of stops within fields.
func components(fields [][]group) Components {
	var c Components
	var ssBetween, ssWithin, size float64
	for _, stops := range fields {
		if len(stops) < 2 {
			continue // says nothing of the variance between stops
		}
		n, sum, squares := 0.0, 0.0, 0.0
		for _, g := range stops {
			n, sum, squares = n+g.n, sum+g.sum, squares+g.n*g.n
			ssWithin += g.within
			c.DFWithin += int(g.n) - 1
		}
		for _, g := range stops {
			d := g.sum/g.n - sum/n
			ssBetween += g.n * d * d
		}
		c.DFBetween += len(stops) - 1
		size += n - squares/n
	}
	switch {
	case c.DFBetween == 0:
		return noComponents("no field has 2 stops")
	case c.DFWithin == 0:
		return noComponents("there is one plant a stop; at least 2 are needed")
	case ssBetween == 0 && ssWithin == 0:
		return noComponents("all plants of a field are the same")
	}
	c.PlantsPerStop = size / float64(c.DFBetween)
	c.MSBetween = ssBetween / float64(c.DFBetween)
	c.MSWithin = ssWithin / float64(c.DFWithin)
	raw := (c.MSBetween - c.MSWithin) / c.PlantsPerStop
	c.Between, c.Within = math.Max(0, raw), c.MSWithin
	c.IntraclassCorrelation = raw / (raw + c.MSWithin)
	c.F = fTest(c)
	return c
}

func fTest(c Components) Test {
	if c.MSWithin == 0 {
		return noTest("the plants of each stop are the same")
	}
	f := c.MSBetween / c.MSWithin
	d1, d2 := float64(c.DFBetween), float64(c.DFWithin)
	return Test{Statistic: f, DF: c.DFBetween, P: mathext.RegIncBeta(d2/2, d1/2, d2/(d2+d1*f))}
}

func noComponents(why string) Components {
	nan := math.NaN()
	return Components{Between: nan, Within: nan, MSBetween: nan, MSWithin: nan, PlantsPerStop: nan,
		IntraclassCorrelation: nan, F: noTest("%s", why), Missing: why}
}

// anovaRho returns the analysis-of-variance estimate of rho,
//
//	(MSB - MSW) / (MSB + (n0-1) MSW)
//
// pooled within fields (Ridout, Demetrio & Firth 1999).
func anovaRho(fields [][]StopCount) Estimate {
	c := PlantComponents(fields)
	if !c.Known() {
		return missing("%s", c.Missing)
	}
	return point(c.IntraclassCorrelation)
}
