package fitting

import (
	"fmt"
	"math"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/sampling"
	"stopwise/sampling/fit"
	"stopwise/sampling/pilot"
)

// figure draws what was fitted.
func (f *fitting) figure() (figure.Picture, error) {
	v := f.shareFigure()
	if f.data.Layout == pilot.PerLeaf {
		v = f.countFigure()
	}
	if len(v.Spread) == 0 {
		return nil, shell.Failure("there is nothing to draw: no field of %s has stops or counts that differ", f.file)
	}
	v.Title = "Clumping in the fields of " + f.file
	return v.Picture()
}

// countFigure shows counts per leaf: their variance on their mean, and how many
// leaves carried how many insects.
func (f *fitting) countFigure() figure.Fitted {
	v := figure.Fitted{
		SpreadHead: "Variance of the counts per leaf in a field", SpreadLabel: "mean number of insects per leaf in the field",
		CountHead: "Leaves, all fields together", CountLabel: "insects on a leaf",
		SeenName: "seen", FittedName: "fitted",
		Note: "Upper panel: each ring is a field; both axes are logarithmic. The farther above the line without clumping, the more clumped.",
	}
	low, high := math.Inf(1), 0.0
	for _, one := range f.PerField {
		if m := one.K.Mean; m > 0 && one.K.Variance > 0 {
			v.Spread = append(v.Spread, figure.XY{X: m, Y: one.K.Variance})
			low, high = math.Min(low, m), math.Max(high, m)
		}
	}
	if t := f.Taylor; t.A.Known() {
		v.Laws = append(v.Laws, figure.Law{Name: fmt.Sprintf("Taylor: %s mean^%s", number3(t.A.Value), number3(t.B.Value)), At: t.Variance, From: t.MinMean, To: t.MaxMean})
	}
	if w := f.Iwao; w.A.Known() {
		v.Laws = append(v.Laws, figure.Law{Name: fmt.Sprintf("Iwao: A %s, B %s", number3(w.A.Value), number3(w.B.Value)), At: w.Variance, From: w.MinMean, To: w.MaxMean})
	}
	v.Laws = append(v.Laws, figure.Law{Name: "no clumping", At: func(m float64) float64 { return m }, From: low, To: high})
	k, with := math.Inf(1), "without clumping"
	if f.K.Estimate.Known() {
		k = f.K.Estimate.Value
		with = "and k " + number3(k)
	}
	v.Counts = f.leafClasses(k)
	v.Note += fmt.Sprintf(" Lower panel: bars are the leaves seen with so many insects, diamonds those expected of a negative binomial with each field's own mean %s.", with)
	v.Desc = fmt.Sprintf("%s and %s.", report.Count(len(v.Spread), "field", "fields"), report.Count(f.Leaves, "leaf", "leaves"))
	return v
}

// shareFigure shows plants infested or not: the variance between the stops of a
// field on that without clumping, and how many stops had how many infested.
func (f *fitting) shareFigure() figure.Fitted {
	fields := stopCounts(f.data)
	v := figure.Fitted{
		SpreadHead: "Variance of the share infested between the stops of a field", SpreadLabel: "variance if plants of a stop were no more alike than others: p(1-p) / plants per stop",
		CountHead: "Stops, all fields together", CountLabel: "infested plants at a stop",
		SeenName: "seen", FittedName: "fitted",
		Note: "Upper panel: each ring is a field with the share infested p; both axes are logarithmic. The farther above the line without clumping, the more alike are the plants of one stop.",
	}
	low, high, plants := math.Inf(1), 0.0, 0.0
	spreads := fit.ShareSpreads(fields)
	for _, s := range spreads {
		x := s.Binomial()
		v.Spread = append(v.Spread, figure.XY{X: x, Y: s.Variance})
		low, high, plants = math.Min(low, x), math.Max(high, x), plants+s.Plants/float64(len(spreads))
	}
	rho, with := 0.0, "without clumping"
	if e := f.Rho.Estimate; e.Known() {
		rho = e.Value
		with = "and rho " + rhoNumber(rho)
		v.Laws = append(v.Laws, figure.Law{Name: "rho " + rhoNumber(rho), At: func(x float64) float64 { return x * (1 + (plants-1)*rho) }, From: low, To: high})
	}
	if b := f.Binary; b.A.Known() {
		v.Laws = append(v.Laws, figure.Law{Name: "power law", At: func(x float64) float64 { return b.A.Value * math.Pow(x, b.B.Value) }, From: low, To: high})
		v.Note += fmt.Sprintf(" Power law: variance = %s times the other one to the power of %s.", number3(b.A.Value), number3(b.B.Value))
	}
	v.Laws = append(v.Laws, figure.Law{Name: "no clumping", At: func(x float64) float64 { return x }, From: low, To: high})
	shape := f.Shape
	v.Counts = stopClasses(fields, rho, shape)
	v.Note += fmt.Sprintf(" Lower panel: bars are the stops seen with so many infested plants, diamonds those expected of a beta-binomial with each field's own share %s.", with)
	if shape.Missing == "" {
		v.FittedName, v.OtherName = fit.ShapeBeta, fit.ShapePatches
		v.Note += fmt.Sprintf(" Crosses: those expected where the pest sits in patches and nowhere else, with rho %s.", rhoNumber(shape.PatchesRho))
	}
	v.Desc = fmt.Sprintf("%s and %s.", report.Count(len(v.Spread), "field", "fields"), report.Count(f.Stops, "stop", "stops"))
	return v
}

// leafClasses counts leaves in classes that widen as counts grow.
func (f *fitting) leafClasses(k float64) []figure.CountClass {
	most := 0
	for _, field := range f.data.Fields {
		for _, c := range field.Counts() {
			most = max(most, c.Count)
		}
	}
	classes := classesUpTo(most)
	for i, field := range f.data.Fields {
		one := f.PerField[i].K
		tails := sampling.NegBinomial{Mu: one.Mean, K: k}.Tails(most + 1)
		for j := range classes {
			classes[j].fitted += float64(one.Units) * (tails[classes[j].from] - classes[j].beyond(tails))
		}
		for _, c := range field.Counts() {
			classes[classOf(classes, c.Count)].seen += float64(c.Leaves)
		}
	}
	return drawnClasses(classes)
}

func stopClasses(fields [][]fit.StopCount, rho float64, shape fit.Shape) []figure.CountClass {
	most := 0
	for _, stops := range fields {
		for _, s := range stops {
			most = max(most, s.Infested)
		}
	}
	classes := classesUpTo(most)
	for _, stops := range fields {
		plants, infested := 0, 0
		for _, s := range stops {
			plants, infested = plants+s.Plants, infested+s.Infested
		}
		p := float64(infested) / float64(plants)
		expected := map[int][]float64{} // tails by plants at the stop
		for _, s := range stops {
			if expected[s.Plants] == nil {
				expected[s.Plants] = sampling.Infested{P: p, Rho: rho}.Stop(s.Plants).Tails(most + 1)
			}
			tails := expected[s.Plants]
			for j := range classes {
				classes[j].fitted += tails[classes[j].from] - classes[j].beyond(tails)
			}
			classes[classOf(classes, s.Infested)].seen++
		}
	}
	for _, c := range shape.Counts {
		classes[classOf(classes, c.Infested)].other += c.Patches
	}
	return drawnClasses(classes)
}

// A countClass holds the counts from from to to; the last one all above too.
type countClass struct {
	from, to     int
	last         bool
	seen, fitted float64
	other        float64 // expected by another form
}

// beyond returns the chance of a count above the class.
func (c countClass) beyond(tails []float64) float64 {
	if c.last {
		return 0
	}
	return tails[c.to+1]
}

// mostSingle is the largest count up to which each count has a class of its own.
const mostSingle = 24

// classesUpTo returns classes of single counts, or, where there are too many for
// a picture, of the steps 0, 1-2, 3-5, 6-10 and so on.
func classesUpTo(most int) []countClass {
	var out []countClass
	if most <= mostSingle {
		for x := range most + 1 {
			out = append(out, countClass{from: x, to: x})
		}
	} else {
		out = append(out, countClass{from: 0, to: 0})
		for power := 1; out[len(out)-1].to < most; power *= 10 {
			for _, m := range []int{2, 5, 10} {
				if to := out[len(out)-1].to; to < most {
					out = append(out, countClass{from: to + 1, to: m * power})
				}
			}
		}
	}
	out[len(out)-1].to = most
	out[len(out)-1].last = true
	return out
}

func classOf(classes []countClass, x int) int {
	for j, c := range classes {
		if x <= c.to {
			return j
		}
	}
	return len(classes) - 1
}

func drawnClasses(classes []countClass) []figure.CountClass {
	var out []figure.CountClass
	for _, c := range classes {
		label := fmt.Sprint(c.from)
		switch {
		case c.last && c.from > 0:
			label += "+"
		case c.to > c.from:
			label = fmt.Sprintf("%d-%d", c.from, c.to)
		}
		out = append(out, figure.CountClass{Label: label, Seen: c.seen, Fitted: c.fitted, Other: c.other})
	}
	return out
}
