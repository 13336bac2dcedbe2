package fit

import (
	"math"

	"stopwise/sampling"
)

// MinExpected is the expected number of units that a class of the fit test has
// at least. It is common practice.
const MinExpected = 5

// GoodnessOfFit compares counts with the negative binomial fitted to them.
type GoodnessOfFit struct {
	Test    // chi-square, on classes - 3 degrees of freedom
	Classes []Class
}

// Class is a range of counts in the fit test.
type Class struct {
	From, To int // To is -1 for "and above"
	Observed int
	Expected float64
}

// goodness pools counts from 0 up into classes with at least MinExpected
// expected units. Mean and k are fitted, which costs two degrees of freedom.
func goodness(c Counts, k float64) GoodnessOfFit {
	n := float64(c.units)
	tails := sampling.NegBinomial{Mu: c.Mean(), K: k}.Tails(c.largest() + 1)
	observed := func(from, to int) int {
		sum := 0
		for _, f := range c.classes {
			if f.Count >= from && (f.Count <= to || to < 0) {
				sum += f.Leaves
			}
		}
		return sum
	}
	var out GoodnessOfFit
	from := 0
	for x := 0; x <= c.largest(); x++ {
		if n*(tails[from]-tails[x+1]) >= MinExpected && n*tails[x+1] >= MinExpected {
			out.Classes = append(out.Classes, Class{from, x, observed(from, x), n * (tails[from] - tails[x+1])})
			from = x + 1
		}
	}
	out.Classes = append(out.Classes, Class{from, -1, observed(from, -1), n * tails[from]})
	chi := 0.0
	for _, class := range out.Classes {
		chi += math.Pow(float64(class.Observed)-class.Expected, 2) / class.Expected
	}
	if len(out.Classes) < 4 {
		out.Test = noTest("there are too few counts for a test of the fit: %d classes with %d expected units, 4 are needed", len(out.Classes), MinExpected)
		return out
	}
	out.Test = chiSquareTest(chi, len(out.Classes)-3)
	return out
}
