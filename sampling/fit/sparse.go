package fit

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/sampling"
)

// SparseBelow is the mean number of infested plants a stop below which fields
// are sparse: the adjusted profile likelihood of rho is then too large, twice so
// at 2 to 5% infested among 10 plants a stop, since fields without a find tell
// it nothing and those with one are a choice. The value is from simulations. In those
// the likelihood over fields, its bias taken off, still came out 4 to 7% too low, from
// twenty fields of six stops.
const SparseBelow = 1

// SparseFields is the least number of fields for the likelihood over fields:
// from fewer, how their shares scatter is not seen.
const SparseFields = 5

// sparseMost is how many fields the likelihood over fields is computed for;
// where there are more, they are taken evenly.
const sparseMost = 600

const shareNodes = 15

var shareNode, shareWeight = func() (x, w []float64) {
	x, w = make([]float64, shareNodes), make([]float64, shareNodes)
	quad.Hermite{}.FixedLocations(x, w, math.Inf(-1), math.Inf(1))
	// gonum's weights are for f(x) alone; here f carries exp(-x^2).
	for i := range x {
		w[i] *= math.Exp(-x[i]*x[i]) / math.Sqrt(math.Pi)
		x[i] *= math.Sqrt2
	}
	floats.Scale(1/floats.Sum(w), w)
	return x, w
}()

// A sparseProfile is the log-likelihood of rho where the logits of the fields'
// shares are normal, with the mean and deviation that suit it best. Fields where
// nothing was found count in full.
type sparseProfile struct {
	fields []clump
	start  []float64 // mean and ln deviation of the logits, where the search begins
}

// logLik returns the log-likelihood of rho with the logits' mean and deviation.
func (p *sparseProfile) logLik(rho, mean, sd float64) float64 {
	theta := thetaOf(rho)
	part := make([]float64, shareNodes)
	sum := 0.0
	for _, f := range p.fields {
		for i, z := range shareNode {
			q := 1 / (1 + math.Exp(-mean-sd*z))
			part[i] = f.logLik(math.Max(1e-12, math.Min(1-1e-12, q)), theta) + math.Log(shareWeight[i])
		}
		sum += floats.LogSumExp(part)
	}
	return sum
}

func (p *sparseProfile) at(rho float64) float64 {
	found, err := optimize.Minimize(optimize.Problem{Func: func(x []float64) float64 {
		return -p.logLik(rho, x[0], math.Exp(math.Min(x[1], 2)))
	}}, p.start, &optimize.Settings{
		Converger: &optimize.FunctionConverge{Absolute: 1e-4, Iterations: 6}, MajorIterations: 120,
	}, &optimize.NelderMead{SimplexSize: 0.3})
	if found == nil || err != nil && math.IsInf(found.F, 0) {
		return math.Inf(-1)
	}
	p.start = []float64{found.X[0], math.Max(-4, math.Min(2, found.X[1]))}
	return -found.F
}

// maximum returns rho where the likelihood is highest, looked for around rho.
func (p *sparseProfile) maximum(rho float64) float64 {
	of := func(x float64) float64 { return math.Min(x*x, top) }
	found, err := optimize.Minimize(optimize.Problem{Func: func(x []float64) float64 {
		return -p.logLik(of(x[0]), x[1], math.Exp(math.Max(-4, math.Min(x[2], 2))))
	}}, append([]float64{math.Sqrt(rho)}, p.start...), &optimize.Settings{
		Converger: &optimize.FunctionConverge{Absolute: 1e-6, Iterations: 10}, MajorIterations: 300,
	}, &optimize.NelderMead{SimplexSize: 0.05})
	if found == nil || err != nil && math.IsInf(found.F, 0) {
		return math.NaN()
	}
	return of(found.X[0])
}

// A bias falls as fields grow in number: it is taken off by leaving out each of
// biasParts parts of them in turn, where there are at most biasFields.
const (
	biasParts  = 10
	biasFields = 100
)

// bias returns by how much rho, found as the maximum, is off on average, by the
// jackknife over parts of the fields; 0 where it cannot be told.
//
// Quenouille, M.H. (1956) Notes on bias in estimation. Biometrika 43: 353-360.
func (p *sparseProfile) bias(rho float64) float64 {
	parts := min(biasParts, len(p.fields))
	if len(p.fields) > biasFields {
		return 0
	}
	p.at(rho) // where the search for the deviation begins
	whole, left := p.maximum(rho), 0.0
	for part := range parts {
		some := sparseProfile{start: p.start}
		for i, f := range p.fields {
			if i%parts != part {
				some.fields = append(some.fields, f)
			}
		}
		left += some.maximum(whole) / float64(parts)
	}
	if b := float64(parts-1) * (left - whole); !math.IsNaN(b) {
		return b
	}
	return 0
}

// sparseRho returns rho by the likelihood integrated over the fields' shares, less its
// bias, or why there is none. It still comes out a little low, see
// [SparseBelow]. able are the fields with two stops and two plants at one.
func sparseRho(able []clump, confidence float64) Estimate {
	infested, stops, plants := 0, 0, 0
	for _, f := range able {
		infested, stops, plants = infested+f.infested, stops+f.stops, plants+f.plants
	}
	switch {
	case infested == 0:
		return missing("no plant was infested")
	case infested == plants:
		return missing("every plant was infested")
	case !sparse(able):
		return missing("it is for fields with fewer than %d infested plants a stop; these have %.3g", SparseBelow, float64(infested)/float64(stops))
	case len(able) < SparseFields:
		return missing("the shares of %d fields do not show how fields differ; at least %d are needed", len(able), SparseFields)
	}
	var fields []clump
	every := (len(able) + sparseMost - 1) / sparseMost
	for i := 0; i < len(able); i += every {
		fields = append(fields, able[i])
	}
	share := float64(infested) / float64(plants)
	p := sparseProfile{fields, []float64{math.Log(share / (1 - share)), -0.7}}
	// Fields are what the interval rests on, and few of them: t takes the place of the
	// normal quantile.
	t := sampling.CriticalStudent(confidence, float64(len(fields)-1))
	e := estimateOf(interpolated(p.at), 2*distuv.UnitNormal.CDF(t)-1)
	if !e.Known() {
		return e
	}
	b := p.bias(e.Value)
	for _, x := range []*float64{&e.Value, &e.Lower, &e.Upper} {
		if *x < top {
			*x = math.Max(0, math.Min(top, *x-b))
		}
	}
	return e
}

// sparse reports whether fields have fewer than SparseBelow infested plants a
// stop.
func sparse(fields []clump) bool {
	infested, stops := 0, 0
	for _, f := range fields {
		infested, stops = infested+f.infested, stops+f.stops
	}
	return stops > 0 && infested < SparseBelow*stops
}
