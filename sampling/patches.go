package sampling

import "gonum.org/v1/gonum/floats"

// Patches is a field where the pest sits in patches and nowhere else: a stop
// lies in a patch or sees nothing. Share infested and correlation of two plants
// at a stop are those of the beta-binomial with the same P and Rho; all that
// differs is the form. Inside a patch a share q of the plants is infested, and a
// stop lies in one with chance P/q, where
//
//	q + Inside (1-q) = P + Rho (1-P)
//
// and Inside is the correlation of two plants within a patch. With Inside 0 it is
// the two-point distribution with mean P and variance Rho P (1-P).
type Patches struct {
	P      float64 // 0 <= P <= 1
	Rho    float64 // 0 <= Rho < 1
	Inside float64 // 0 <= Inside; no more than Rho counts
}

// Level returns P.
func (f Patches) Level() float64 { return f.P }

// Share returns the share infested inside a patch.
func (f Patches) Share() float64 {
	inside := min(f.Inside, f.Rho)
	return (f.P + f.Rho*(1-f.P) - inside) / (1 - inside)
}

// Stop returns the number of infested plants among units.
func (f Patches) Stop(units int) StopTotal {
	if f.P == 0 {
		return Discrete{1}
	}
	q := f.Share()
	d := Discrete(Infested{min(1, q), min(f.Inside, f.Rho)}.Stop(units).Probs(units))
	in := min(1, f.P/q)
	floats.Scale(in, d)
	d[0] += 1 - in
	return d
}
