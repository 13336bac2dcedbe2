package fit

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/optimize"

	"stopwise/sampling"
	"stopwise/sampling/pilot"
)

// CountRho is the correlation of two leaves' counts at one stop, and all that is
// known of it; see [sampling.AlikeCounts].
type CountRho struct {
	Fields int // fields used: those with insects, at least 2 stops, and 2 leaves at one of them
	Stops  int // stops in them
	Left   int // fields that could have been used beyond [CountRhoStops]

	// Estimate is by the adjusted profile likelihood, for one field by maximum
	// likelihood, with its profile-likelihood interval.
	Estimate Estimate
	Method   Method

	K float64 // the k at the estimate, NaN where a law gave it
	// KInterval is that k with its profile-likelihood interval, the correlation being
	// what suits each k best: leaves are not taken as independent. It is missing
	// where a law gave k, or no correlation could be fitted.
	KInterval Estimate
	ANOVA     Estimate // analysis of variance within fields, without interval
}

// CountRhoStops is about how many stops the likelihood is computed for. Where
// there are more, fields are taken evenly from all of them: the interval is
// narrow by then.
const CountRhoStops = 600

// FitCountRho fits counts alike at a stop to fields, each with a mean of its own:
// fields[i][j] are the counts on the leaves of stop j of field i. One correlation
// holds for all fields; where it is more than a field's mean and k allow
// ([sampling.MaxCountRho]) that field has the largest possible. k is fitted along
// with it, one for all fields, unless law gives it at each mean.
//
// As in [FitPooledRho] the likelihood is adjusted for the means having been
// fitted, by the information on each field's ln mean (Cox, D.R. & Reid, N. 1987,
// J. R. Stat. Soc. B 49: 1-39).
//
// The analysis of variance is of leaves within stops within fields, each field's
// counts divided by their standard deviation so that rich fields do not drown
// the others.
func FitCountRho(fields [][]Counts, law sampling.VarianceLaw, confidence float64) (CountRho, error) {
	if err := checkConfidence(confidence); err != nil {
		return CountRho{}, err
	}
	used, why := countFields(fields)
	out := CountRho{Fields: len(used), K: math.NaN(), Method: AdjustedProfile, KInterval: missing("a law gives k")}
	if len(used) == 0 {
		out.Estimate, out.ANOVA, out.KInterval = missing("%s", why), missing("%s", why), missing("%s", why)
		return out, nil
	}
	out.ANOVA = countANOVA(used)
	if len(used) == 1 {
		out.Method = MaximumLikelihood
	}
	used = spreadOver(used)
	out.Left = out.Fields - len(used)
	for _, f := range used {
		out.Stops += len(f.stops)
	}
	out.Fields = len(used)
	p := countProfile{fields: used, law: law, adjust: len(used) > 1, logK: startK(used)}
	out.Estimate = estimateOf(interpolated(func(rho float64) float64 { v, _ := p.at(rho); return v }), confidence)
	_, out.K = p.at(out.Estimate.Value)
	if law == nil {
		out.KInterval = p.kAround(out.K, out.Estimate.Value, confidence)
	}
	return out, nil
}

// kMiddle is where, of 0 to 1, the k found lies when others are tried: 0 is no
// clumping, 1 a k of 0.
const kMiddle = 0.3

// kAround returns k with its interval, which is where the likelihood, highest over
// the correlation, falls by half a quantile of chi-square.
func (p *countProfile) kAround(k, rho, confidence float64) Estimate {
	at := func(u float64) float64 { return k * (1 - u) / u * kMiddle / (1 - kMiddle) }
	start := math.Log(math.Max(rho, 0.01) / (1 - math.Max(rho, 0.01)))
	c := interpolated(func(u float64) float64 {
		k := at(u)
		found, err := optimize.Minimize(optimize.Problem{Func: func(x []float64) float64 {
			return -p.sum(func(float64) float64 { return k }, 1/(1+math.Exp(-x[0])))
		}}, []float64{start}, &optimize.Settings{
			Converger: &optimize.FunctionConverge{Absolute: 1e-4, Iterations: 3}, MajorIterations: 60,
		}, &optimize.NelderMead{SimplexSize: 0.2})
		if found == nil || err != nil && math.IsInf(found.F, 0) {
			return math.Inf(-1)
		}
		return math.Max(-found.F, p.sum(func(float64) float64 { return k }, 0))
	})
	lower, upper := c.interval(c.maximum(), confidence)
	e := Estimate{Value: k, SE: math.NaN(), Lower: at(upper), Upper: at(lower)}
	if upper == top {
		e.Lower = 0
	}
	return e
}

// sum returns the log-likelihood of a k and a correlation, each field's mean being
// what suits it best.
func (p *countProfile) sum(k func(mean float64) float64, rho float64) float64 {
	total := 0.0
	for _, f := range p.fields {
		ll, less := f.profiled(k, rho)
		total += ll
		if p.adjust {
			total -= less
		}
	}
	return total
}

func countFields(fields [][]Counts) (used []countField, why string) {
	why = "there are no fields"
	for _, stops := range fields {
		f := newCountField(stops)
		many := false
		for _, s := range stops {
			many = many || s.units > 1
		}
		switch {
		case len(stops) < 2:
			why = "there is one stop; at least 2 are needed"
		case f.all.sum == 0:
			why = "all counts are 0"
		case !many:
			why = "there is one leaf a stop; at least 2 are needed"
		default:
			used = append(used, f)
		}
	}
	if len(fields) > 1 {
		why = "no field has insects and 2 stops of 2 leaves"
	}
	return used, why
}

// spreadOver takes fields evenly until they have about CountRhoStops stops.
func spreadOver(fields []countField) []countField {
	stops := 0
	for _, f := range fields {
		stops += len(f.stops)
	}
	every := (stops + CountRhoStops - 1) / CountRhoStops
	if every <= 1 {
		return fields
	}
	var out []countField
	for i := 0; i < len(fields); i += every {
		out = append(out, fields[i])
	}
	return out
}

// A countProfile is the log-likelihood of the correlation, all else being what
// suits it best.
type countProfile struct {
	fields []countField
	law    sampling.VarianceLaw
	adjust bool
	logK   float64 // where the search for k begins
}

// at returns the highest log-likelihood for rho, and the k it is at.
func (p *countProfile) at(rho float64) (value, k float64) {
	if p.law != nil {
		return p.sum(func(mean float64) float64 { return sampling.KAt(p.law, mean) }, rho), math.NaN()
	}
	problem := optimize.Problem{Func: func(x []float64) float64 {
		k := math.Exp(x[0])
		return -p.sum(func(float64) float64 { return k }, rho)
	}}
	found, err := optimize.Minimize(problem, []float64{p.logK}, &optimize.Settings{
		Converger: &optimize.FunctionConverge{Absolute: 1e-4, Iterations: 3}, MajorIterations: 60,
	}, &optimize.NelderMead{SimplexSize: 0.05})
	if found == nil || err != nil && math.IsInf(found.F, 0) {
		return math.Inf(-1), math.NaN()
	}
	p.logK = math.Max(-12, math.Min(12, found.X[0]))
	return -found.F, math.Exp(found.X[0])
}

// startK returns ln k by moments over all fields.
func startK(fields []countField) float64 {
	sum, square := 0.0, 0.0
	for _, f := range fields {
		m := f.all.Mean()
		square += m * m
		sum += math.Max(0, f.all.Variance()-m)
	}
	if sum == 0 {
		return math.Log(50)
	}
	return math.Log(square / sum)
}

func countANOVA(fields []countField) Estimate {
	groups := make([][]group, len(fields))
	for i, f := range fields {
		sd := math.Sqrt(f.all.Variance())
		for _, s := range f.stops {
			g := group{n: float64(s.units), sum: s.sum / sd}
			if s.units > 0 {
				g.within = s.squares() / (sd * sd)
			}
			groups[i] = append(groups[i], g)
		}
	}
	c := components(groups)
	if !c.Known() {
		return missing("%s", c.Missing)
	}
	return point(c.IntraclassCorrelation)
}

// merged returns the counts of all stops together.
func merged(stops []Counts) Counts {
	leaves := map[int]int{}
	var out Counts
	for _, s := range stops {
		for _, f := range s.classes {
			leaves[f.Count] += f.Leaves
		}
		out.units += s.units
		out.sum += s.sum
	}
	for x, n := range leaves {
		out.classes = append(out.classes, pilot.Frequency{Count: x, Leaves: n})
	}
	sort.Slice(out.classes, func(i, j int) bool { return out.classes[i].Count < out.classes[j].Count })
	return out
}
