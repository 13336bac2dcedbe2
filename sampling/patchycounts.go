package sampling

// PatchyCounts is a field where the pest sits in patches: a stop lies in a
// patch or has no insect at all. One unit of the whole field has the mean, the
// variance and the correlation with another unit of its stop that
// [AlikeCounts] has with the same Mean, K and Rho; only the form differs. With
// Inside = 0 all that makes the units of a stop alike is whether it lies in a
// patch.
//
// With v = Mean + Mean^2/K, a stop lies in a patch with chance
//
//	w = Mean^2 (1-Inside) / (Mean^2 + Rho v - Inside (Mean^2 + v))
//
// and there units have mean Mean/w, variance (v + Mean^2)/w - (Mean/w)^2 and
// correlation Inside: moments of a two-part mixture.
type PatchyCounts struct {
	Mean   float64 // insects per unit over the whole field, 0 <= Mean < +Inf
	K      float64 // of one unit over the whole field, 0 < K <= +Inf
	Rho    float64 // correlation of two units of one stop, 0 <= Rho <= MaxCountRho(Mean, K)
	Inside float64 // correlation of two units of a stop in a patch, 0 <= Inside <= Rho
}

// Share returns the chance that a stop lies in a patch.
func (f PatchyCounts) Share() float64 {
	if f.Rho == f.Inside || f.Mean == 0 {
		return 1
	}
	square, v := f.Mean*f.Mean, CommonK{f.K}.Variance(f.Mean)
	return square * (1 - f.Inside) / (square + f.Rho*v - f.Inside*(square+v))
}

// Patch returns the counts of stops that lie in a patch.
func (f PatchyCounts) Patch() AlikeCounts {
	w := f.Share()
	if w == 1 {
		return AlikeCounts{f.Mean, f.K, f.Rho}
	}
	mean := f.Mean / w
	over := CommonK{f.K}.Variance(f.Mean)/w + f.Mean*mean - mean*mean - mean
	return AlikeCounts{mean, kOf(mean, over), f.Inside}
}

// Stop returns the total count on units units of one stop.
func (f PatchyCounts) Stop(units int) StopTotal {
	if w := f.Share(); w < 1 {
		return patchyTotal{f.Patch().Stop(units), w}
	}
	return f.Patch().Stop(units)
}

// Level returns Mean.
func (f PatchyCounts) Level() float64 { return f.Mean }

// patchyTotal is the total of a stop that lies in a patch with chance share.
type patchyTotal struct {
	patch StopTotal
	share float64
}

// Mean returns the mean of the total.
func (d patchyTotal) Mean() float64 { return d.share * d.patch.Mean() }

// Variance returns the variance of the total.
func (d patchyTotal) Variance() float64 {
	m := d.patch.Mean()
	return d.share * (d.patch.Variance() + (1-d.share)*m*m)
}

// Max returns what it is in a patch.
func (d patchyTotal) Max() int { return d.patch.Max() }

// Probs returns P(X = x) for x = 0..n.
func (d patchyTotal) Probs(n int) []float64 {
	p := d.patch.Probs(n)
	for x := range p {
		p[x] *= d.share
	}
	p[0] += 1 - d.share
	return p
}

// Tails returns P(X >= x) for x = 0..n.
func (d patchyTotal) Tails(n int) []float64 {
	t := d.patch.Tails(n)
	for x := range t {
		t[x] *= d.share
	}
	t[0] = 1
	return t
}
