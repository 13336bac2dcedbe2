package sampling

// Discrete is a stop's total with given chances of 0, 1, ..., len-1.
type Discrete []float64

// Max returns the largest total.
func (d Discrete) Max() int { return len(d) - 1 }

// Mean returns the expected total.
func (d Discrete) Mean() float64 {
	m := 0.0
	for x, p := range d {
		m += float64(x) * p
	}
	return m
}

// Variance returns the variance of the total.
func (d Discrete) Variance() float64 {
	m, v := d.Mean(), 0.0
	for x, p := range d {
		v += (float64(x) - m) * (float64(x) - m) * p
	}
	return v
}

// Probs returns P(X = x) for x = 0..n.
func (d Discrete) Probs(n int) []float64 {
	p := make([]float64, n+1)
	copy(p, d)
	return p
}

// Tails returns P(X >= x) for x = 0..n.
func (d Discrete) Tails(n int) []float64 {
	t := make([]float64, max(n+1, len(d)))
	sum := 0.0
	for x := len(d) - 1; x >= 0; x-- {
		sum += d[x]
		t[x] = sum
	}
	return t[:n+1]
}

var _ StopTotal = Discrete(nil)
