package sampling

import (
	"fmt"
	"math"
)

// A VarianceLaw says how the variance of the count per unit goes with its mean.
type VarianceLaw interface {
	// Variance returns the variance per unit at the given mean per unit.
	Variance(mean float64) float64
	// Check returns an error if a parameter is out of its range.
	Check() error
	// String says the law in words, with its parameters.
	String() string
}

// CommonK is the negative binomial law, variance mean + mean^2/K. K = +Inf is
// the Poisson law, variance = mean.
type CommonK struct {
	K float64 // aggregation parameter per unit, 0 < K <= +Inf
}

// Variance returns mean + mean^2/K.
func (l CommonK) Variance(mean float64) float64 { return mean + mean*mean/l.K }

// Check returns an error unless K > 0.
func (l CommonK) Check() error {
	if !(l.K > 0) {
		return Refuse("k", l.K, "above 0")
	}
	return nil
}

func (l CommonK) String() string {
	if math.IsInf(l.K, 1) {
		return "Poisson, variance = mean"
	}
	return fmt.Sprintf("negative binomial with k = %g, variance = mean + mean^2/k", l.K)
}

// Taylor is Taylor's power law, variance A mean^B.
//
// Taylor, L.R. (1961) Aggregation, variance and the mean. Nature 189: 732-735.
type Taylor struct {
	A float64 `json:"a"` // variance at mean 1, above 0
	B float64 `json:"b"` // exponent; 1 with A = 1 is random, above 1 clumped
}

// Variance returns A mean^B.
func (l Taylor) Variance(mean float64) float64 { return l.A * math.Pow(mean, l.B) }

// K returns the negative binomial k that has the law's variance at a mean: +Inf
// (Poisson) where that does not exceed the mean.
func (l Taylor) K(mean float64) float64 { return kOf(mean, l.Variance(mean)-mean) }

// Check returns an error unless A > 0 and B is a number.
func (l Taylor) Check() error {
	return checkPair("Taylor's a", l.A, 0, "Taylor's b", l.B)
}

// checkPair returns an error unless a is above least and b a number.
func checkPair(nameA string, a, least float64, nameB string, b float64) error {
	if !(a > least) || math.IsInf(a, 1) {
		return Refuse(nameA, a, fmt.Sprintf("above %g", least))
	}
	if math.IsNaN(b) || math.IsInf(b, 0) {
		return Refuse(nameB, b, "a number")
	}
	return nil
}

func (l Taylor) String() string {
	return fmt.Sprintf("Taylor's power law with a = %g and b = %g, variance = a mean^b", l.A, l.B)
}

// Iwao is Iwao's regression of mean crowding on the mean, mean crowding =
// A + B mean, which gives variance (A+1) mean + (B-1) mean^2.
//
// Iwao, S. & Kuno, E. (1968) Use of the regression of mean crowding on mean
// density for estimating sample size and the transformation of data for the
// analysis of variance. Res. Popul. Ecol. 10: 210-214.
type Iwao struct {
	A float64 `json:"a"` // crowding at mean 0; above -1, 0 where single insects settle at random
	B float64 `json:"b"` // slope; 1 is random, above 1 clumped
}

// Variance returns (A+1) mean + (B-1) mean^2. It is 0 or less where the law does
// not hold.
func (l Iwao) Variance(mean float64) float64 { return (l.A+1)*mean + (l.B-1)*mean*mean }

// K returns the negative binomial k that has the law's variance at a mean: +Inf
// (Poisson) where that does not exceed the mean.
func (l Iwao) K(mean float64) float64 { return kOf(mean, l.A*mean+(l.B-1)*mean*mean) }

// kOf returns the k of a variance that exceeds the mean by over.
func kOf(mean, over float64) float64 {
	if over <= 0 {
		return math.Inf(1)
	}
	return mean * mean / over
}

// Check returns an error unless A > -1 and B is a number.
func (l Iwao) Check() error {
	return checkPair("Iwao's A", l.A, -1, "Iwao's B", l.B)
}

func (l Iwao) String() string {
	return fmt.Sprintf("Iwao's law with A = %g and B = %g, variance = (A+1) mean + (B-1) mean^2", l.A, l.B)
}

// KAt returns the negative binomial k that a law gives at a mean per unit: +Inf
// (Poisson) where its variance does not exceed the mean.
func KAt(law VarianceLaw, mean float64) float64 {
	switch l := law.(type) {
	case CommonK:
		return l.K
	case interface{ K(mean float64) float64 }:
		return l.K(mean)
	}
	return kOf(mean, law.Variance(mean)-mean)
}
