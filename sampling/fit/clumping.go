package fit

import (
	"encoding/binary"
	"math"
	"runtime"
	"sync"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/combin"

	"stopwise/sampling"
)

// StopCount is what was seen at one stop.
type StopCount struct {
	Plants   int // at least 1
	Infested int // 0 <= Infested <= Plants
}

// A clump is the beta-binomial likelihood of one field with its own share
// infested p, in theta = rho/(1-rho):
//
//	sum over r of a[r] ln(p + r theta) + b[r] ln(1-p + r theta) - c[r] ln(1 + r theta)
//
// where a, b and c are the numbers of stops with more than r infested plants,
// healthy plants, and plants. In this product form nothing cancels as theta
// goes to 0, where it is the binomial, and its cost does not grow with the
// number of stops. (Griffiths, D.A. 1973, Biometrics 29: 637-648.)
type clump struct {
	a, b, c  []float64
	constant float64 // sum of the logarithms of the binomial coefficients
	times    float64 // so many fields have this likelihood
	stops    int
	plants   int
	infested int
}

func newClump(stops []StopCount) (clump, error) {
	f := clump{stops: len(stops), times: 1}
	for i, s := range stops {
		if s.Plants < 1 || s.Infested < 0 || s.Infested > s.Plants {
			return f, sampling.Refusef("stop %d: %d infested of %d plants, must be from 0 to the number of plants, which is at least 1", i+1, s.Infested, s.Plants)
		}
		f.a = countAt(f.a, s.Infested)
		f.b = countAt(f.b, s.Plants-s.Infested)
		f.c = countAt(f.c, s.Plants)
		f.plants += s.Plants
		f.infested += s.Infested
		f.constant += combin.LogGeneralizedBinomial(float64(s.Plants), float64(s.Infested))
	}
	f.a, f.b, f.c = above(f.a), above(f.b), above(f.c)
	return f, nil
}

// countAt adds one to n[x], making room for it.
func countAt(n []float64, x int) []float64 {
	for len(n) <= x {
		n = append(n, 0)
	}
	n[x]++
	return n
}

// above turns the numbers of stops at x = 0, 1, ... into those above x.
func above(n []float64) []float64 {
	sum := 0.0
	for x := len(n) - 1; x >= 0; x-- {
		sum, n[x] = sum+n[x], sum
	}
	return n[:max(len(n)-1, 0)]
}

// informative reports whether the field says anything of clumping: two stops,
// both kinds of plants, and more than one plant at a stop.
func (f clump) informative() bool { return f.lack() == "" }

func (f clump) lack() string {
	switch {
	case f.stops == 0:
		return "there are no stops"
	case f.stops == 1:
		return "there is one stop; at least 2 are needed"
	case len(f.c) < 2:
		return "there is one plant a stop; at least 2 are needed"
	case f.infested == 0:
		return "no plant was infested"
	case f.infested == f.plants:
		return "every plant was infested"
	}
	return ""
}

// share returns the p that makes the likelihood highest for theta. The share
// seen is so near that a few Newton steps on the score, which falls in p, mostly
// find it; where they leave (0, 1) or do not settle, a bracket does: the score
// times p(1-p) falls from positive at 0 to negative at 1.
func (f clump) share(theta float64) float64 {
	p := float64(f.infested) / float64(f.plants)
	if theta == 0 {
		return p
	}
	for range 20 {
		score, fall := 0.0, 0.0
		for r, n := range f.a {
			i := 1 / (p + float64(r)*theta)
			score += n * i
			fall += n * i * i
		}
		for r, n := range f.b {
			i := 1 / (1 - p + float64(r)*theta)
			score -= n * i
			fall += n * i * i
		}
		step := score / fall
		p += step
		if !(p > 0 && p < 1) {
			break
		}
		// The next step would be of the order of the square of this one.
		if math.Abs(step) <= 1e-9*min(p, 1-p) {
			return p
		}
	}
	return zero(func(p float64) float64 {
		q := 1 - p
		up, down := f.a[0], f.b[0]
		for r := 1; r < len(f.a); r++ {
			up += f.a[r] * p / (p + float64(r)*theta)
		}
		for r := 1; r < len(f.b); r++ {
			down += f.b[r] * q / (q + float64(r)*theta)
		}
		return up*q - down*p
	}, 0, 1)
}

func (f clump) logLik(p, theta float64) float64 {
	return f.constant + sumOfLogs(f.a, p, theta) + sumOfLogs(f.b, 1-p, theta) - sumOfLogs(f.c, 1, theta)
}

// sumOfLogs returns the sum over r of n[r] ln(x + r step), where n falls by one for
// every stop. A stop's part is the logarithm of a product of which the next stop's is
// a continuation, and those of a few stops are multiplied before the logarithm is
// taken: logarithms are what the likelihood of a field costs.
func sumOfLogs(n []float64, x, step float64) float64 {
	const few = 8                    // stops of one total that are multiplied
	const tiny, huge = 1e-100, 1e100 // a product outside is put into the sum
	sum, product := 0.0, 1.0
	one, logged := 1.0, 0.0 // the product of one stop, and what of it is a logarithm already
	for r := range n {
		if one *= x + float64(r)*step; one < tiny || one > huge {
			logged, one = logged+math.Log(one), 1
		}
		stops := n[r]
		if r+1 < len(n) {
			stops -= n[r+1]
		}
		if stops == 0 {
			continue
		}
		if stops > few {
			sum += stops * (logged + math.Log(one))
			continue
		}
		sum += stops * logged
		for range int(stops) {
			if product *= one; product < tiny || product > huge {
				sum, product = sum+math.Log(product), 1
			}
		}
	}
	return sum + math.Log(product)
}

// A slopes holds derivatives of the log-likelihood at (p, theta).
type slopes struct {
	t  float64 // to theta
	pp float64 // to p twice; negative
	pt float64 // to p and theta
	tt float64 // to theta twice

	ppp, ppt float64 // of pp
}

func (f clump) slopes(p, theta float64) slopes {
	var s slopes
	term := func(n, r, x, sign float64) {
		i := 1 / (x + r*theta)
		s.t += n * r * i
		s.pp -= n * i * i
		s.pt -= sign * n * r * i * i
		s.tt -= n * r * r * i * i
		s.ppp += sign * 2 * n * i * i * i
		s.ppt += 2 * n * r * i * i * i
	}
	for r, n := range f.a {
		term(n, float64(r), p, 1)
	}
	for r, n := range f.b {
		term(n, float64(r), 1-p, -1)
	}
	for r, n := range f.c {
		i := 1 / (1 + float64(r)*theta)
		s.t -= n * float64(r) * i
		s.tt += n * float64(r) * float64(r) * i * i
	}
	return s
}

// thetaOf and rhoOf change between rho and theta.
func thetaOf(rho float64) float64 { return rho / (1 - rho) }
func rhoOf(theta float64) float64 { return theta / (1 + theta) }

// scouts is of how many fields a scout is made (see [curve]) where there are ten
// times as many or more.
const scouts = 200

// scouted returns the curve of fields, with a scout where they are many.
func scouted(fields []clump, of func([]clump) curve) curve {
	c := of(alike(fields))
	if len(fields) >= 10*scouts {
		var few []clump
		for i := 0; i < len(fields); i += len(fields) / scouts {
			few = append(few, fields[i])
		}
		part := of(few)
		c.scout = &part
	}
	return c
}

// alike takes fields of the same likelihood together: among many small fields there
// are few that differ. The logarithm that does not depend on rho is their mean one.
func alike(fields []clump) []clump {
	if len(fields) < manyFields {
		return fields
	}
	var all []clump
	var key []byte
	at := map[string]int{}
	for _, f := range fields {
		key = key[:0]
		for _, n := range [][]float64{f.a, f.b, f.c} {
			key = binary.AppendUvarint(key, uint64(len(n)))
			for _, x := range n {
				key = binary.AppendUvarint(key, uint64(x))
			}
		}
		i, seen := at[string(key)]
		if !seen {
			at[string(key)] = len(all)
			all = append(all, f)
			continue
		}
		one := &all[i]
		one.times += f.times
		one.constant += (f.constant - one.constant) * f.times / one.times
	}
	return all
}

// manyFields are so many that those alike are reckoned once, and that sums over them
// are made in pieces of so many.
const manyFields = 512

// overFields returns the sum of f over the fields. Many fields are summed in
// pieces side by side; the pieces are the same on every machine, so that the sum
// is too.
func overFields(fields []clump, f func(clump) float64) float64 {
	const piece = manyFields
	part := func(fields []clump) float64 {
		sum := 0.0
		for _, one := range fields {
			sum += one.times * f(one)
		}
		return sum
	}
	if len(fields) <= piece {
		return part(fields)
	}
	sums := make([]float64, (len(fields)+piece-1)/piece)
	var wg sync.WaitGroup
	workers := runtime.GOMAXPROCS(0)
	for w := range workers {
		wg.Go(func() {
			for i := w; i < len(sums); i += workers {
				sums[i] = part(fields[i*piece : min(len(fields), (i+1)*piece)])
			}
		})
	}
	wg.Wait()
	return floats.Sum(sums)
}

// profile returns the log-likelihood as a curve of rho, each field having the p
// that suits it best.
func profile(fields []clump) curve { return scouted(fields, plainProfile) }

func plainProfile(fields []clump) curve {
	return curve{
		value: func(rho float64) float64 {
			theta := thetaOf(rho)
			return overFields(fields, func(f clump) float64 { return f.logLik(f.share(theta), theta) })
		},
		slope: func(rho float64) float64 {
			theta := thetaOf(rho)
			return overFields(fields, func(f clump) float64 { return f.slopes(f.share(theta), theta).t })
		},
	}
}

// adjusted returns the profile likelihood less half the logarithm of the
// information on each field's p. The profile alone takes each p for known,
// though it was fitted to few stops, and so finds too little clumping: with J
// stops a field the variance between stops comes out (J-1)/J of its size,
// however many fields there are.
//
// Cox, D.R. & Reid, N. (1987) Parameter orthogonality and approximate
// conditional inference. J. R. Stat. Soc. B 49: 1-39.
func adjusted(fields []clump) curve { return scouted(fields, adjustedProfile) }

func adjustedProfile(fields []clump) curve {
	return curve{
		value: func(rho float64) float64 {
			theta := thetaOf(rho)
			return overFields(fields, func(f clump) float64 {
				p := f.share(theta)
				return f.logLik(p, theta) - math.Log(-f.slopes(p, theta).pp)/2
			})
		},
		slope: func(rho float64) float64 {
			theta := thetaOf(rho)
			return overFields(fields, func(f clump) float64 {
				s := f.slopes(f.share(theta), theta)
				dp := -s.pt / s.pp // how the best p follows theta
				return s.t - (s.ppt+s.ppp*dp)/(2*s.pp)
			})
		},
	}
}
