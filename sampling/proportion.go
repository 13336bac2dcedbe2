package sampling

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/mathext"

	"stopwise/sampling/root"
)

// A Method is a way to compute a confidence interval for a share.
type Method int

const (
	// MethodWilson is the score interval: close to its nominal confidence on
	// average, for all shares and sizes. The default.
	MethodWilson Method = iota
	// MethodWilsonCorrected is the score interval with a continuity
	// correction: seldom below its nominal confidence, and wider.
	MethodWilsonCorrected
	// MethodClopperPearson is the exact interval: never below its nominal
	// confidence, and the widest.
	MethodClopperPearson
	// MethodMidP is the exact interval with half the chance of what was
	// observed left out: near its nominal confidence on average.
	MethodMidP
	// MethodAgrestiCoull is the adjusted Wald interval, which adds z^2 plants,
	// half of them infested.
	MethodAgrestiCoull
	// MethodWald is the estimate plus and minus z standard errors. For
	// teaching only: its true confidence is often far below the nominal one,
	// and it has no width at all when none or all are infested.
	MethodWald
)

var methodNames = [...]string{
	MethodWilson:          "wilson",
	MethodWilsonCorrected: "wilson-corrected",
	MethodClopperPearson:  "clopper-pearson",
	MethodMidP:            "mid-p",
	MethodAgrestiCoull:    "agresti-coull",
	MethodWald:            "wald",
}

// String returns the method's name, for example "clopper-pearson".
func (m Method) String() string {
	if m < 0 || int(m) >= len(methodNames) {
		return fmt.Sprintf("Method(%d)", int(m))
	}
	return methodNames[m]
}

// TeachingOnly reports whether the method is kept only to show why the others
// are better.
func (m Method) TeachingOnly() bool { return m == MethodWald }

// Methods returns all methods.
func Methods() []Method {
	all := make([]Method, len(methodNames))
	for i := range all {
		all[i] = Method(i)
	}
	return all
}

// ParseMethod returns the method of the given name.
func ParseMethod(name string) (Method, error) {
	for i, s := range methodNames {
		if s == name {
			return Method(i), nil
		}
	}
	return 0, Refusef("no interval method %q, must be one of %s", name, strings.Join(methodNames[:], ", "))
}

// Proportion returns a confidence interval for the share infested, from
// infested out of plants independent plants. Neither need be whole, so that
// clumped stops can be passed as their effective size; for whole numbers the
// methods are the usual ones. The limits stay within 0 and 1.
//
//	MethodWilson           Wilson, E.B. (1927) J. Am. Stat. Assoc. 22: 209-212
//	MethodWilsonCorrected  Newcombe, R.G. (1998) Stat. Med. 17: 857-872, method 4
//	MethodClopperPearson   Clopper, C.J. & Pearson, E.S. (1934) Biometrika 26: 404-413
//	MethodMidP             Newcombe (1998), method 6
//	MethodAgrestiCoull     Agresti, A. & Coull, B.A. (1998) Am. Stat. 52: 119-126
//	MethodWald             the estimate plus and minus z standard errors, cut at 0 and 1
func Proportion(method Method, infested, plants, confidence float64) (Interval, error) {
	if !(plants > 0) || math.IsInf(plants, 1) {
		return Interval{}, Refusef("%g plants examined, must be above 0", plants)
	}
	if !(infested >= 0 && infested <= plants) {
		return Interval{}, Refusef("%g plants infested of %g examined, must be from 0 to %g", infested, plants, plants)
	}
	if err := CheckConfidence(confidence); err != nil {
		return Interval{}, err
	}
	switch method {
	case MethodWilson:
		return Wilson(infested, plants, confidence), nil
	case MethodWilsonCorrected:
		return wilsonCorrected(infested, plants, confidence), nil
	case MethodClopperPearson:
		return exactInterval(clopperPearsonTail, infested, plants, confidence)
	case MethodMidP:
		return exactInterval(midPTail, infested, plants, confidence)
	case MethodAgrestiCoull:
		z := CriticalNormal(confidence)
		return wald(infested+z*z/2, plants+z*z, confidence), nil
	case MethodWald:
		return wald(infested, plants, confidence), nil
	}
	return Interval{}, Refusef("no interval method %v, must be one of %s", method, strings.Join(methodNames[:], ", "))
}

func wald(infested, plants, confidence float64) Interval {
	p := infested / plants
	half := CriticalNormal(confidence) * math.Sqrt(p*(1-p)/plants)
	return Interval{math.Max(0, p-half), math.Min(1, p+half), confidence}
}

// wilsonCorrected takes the score limits half a plant further out on each side,
// which is the same as Newcombe's formula.
func wilsonCorrected(infested, plants, confidence float64) Interval {
	in := Interval{0, 1, confidence}
	if infested > 0.5 {
		in.Lower = Wilson(infested-0.5, plants, confidence).Lower
	}
	if infested < plants-0.5 {
		in.Upper = Wilson(infested+0.5, plants, confidence).Upper
	}
	return in
}

// exactInterval inverts a tail: the lower limit is the share at which seeing
// infested or more has chance (1-confidence)/2, and the upper one is the lower
// limit of the plants not infested, turned over.
func exactInterval(tail func(p, x, n float64) float64, infested, plants, confidence float64) (Interval, error) {
	risk := (1 - confidence) / 2
	lower, err := lowerLimit(tail, infested, plants, risk)
	if err != nil {
		return Interval{}, err
	}
	rest, err := lowerLimit(tail, plants-infested, plants, risk)
	if err != nil {
		return Interval{}, err
	}
	return Interval{lower, 1 - rest, confidence}, nil
}

// lowerLimit solves tail(p, x, n) = risk for p. Gonum's InvRegIncBeta is wrong
// in the far tails, so the tail itself is solved.
func lowerLimit(tail func(p, x, n float64) float64, x, n, risk float64) (float64, error) {
	if x == 0 {
		return 0, nil
	}
	return root.Brent(func(p float64) float64 { return tail(p, x, n) - risk }, 0, 1)
}

// clopperPearsonTail returns P(X >= x) = I_p(x, n-x+1).
func clopperPearsonTail(p, x, n float64) float64 {
	return mathext.RegIncBeta(x, n-x+1, p)
}

// midPTail returns P(X > x) + P(X = x)/2.
func midPTail(p, x, n float64) float64 {
	above := 0.0
	if x < n {
		above = mathext.RegIncBeta(x+1, n-x, p)
	}
	return (clopperPearsonTail(p, x, n) + above) / 2
}
