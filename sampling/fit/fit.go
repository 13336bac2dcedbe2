package fit

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"runtime"
	"slices"
	"sync"

	"stopwise/sampling"
	"stopwise/sampling/pilot"
)

// Options say how to fit.
type Options struct {
	// Confidence is that of all intervals. 0 means 0.95.
	Confidence float64

	// Tally is the number of insects on a leaf from which its plant counts as
	// infested, for the share infested and rho. 0 means that of the data. It is
	// for data with one row a leaf only.
	Tally int

	// Tallies are the tally numbers for which a tally model is fitted. None
	// means Tally. It is for data with one row a leaf only.
	Tallies []int
}

// Result holds all that is fitted to a set of pilot data. Estimates that need
// counts are missing, with that reason, where plants were only recorded as
// infested or not.
type Result struct {
	Confidence float64
	Layout     pilot.Layout
	Tally      int // as in pilot.Data

	Fields, Stops, Plants, Infested, Leaves int

	PerField []FieldFit

	Rho         RhoResult
	Shape       Shape          // which form the clumping of infested plants has
	Binary      BinaryPowerLaw // how rho changes with the share infested
	PlantShares Components     // variance components of plants infested or not

	K KResult
	// CountRho is how alike the counts on the leaves of one stop are; K, which
	// takes them as independent, is that of leaves over a whole field.
	CountRho CountRho
	Taylor   Taylor
	Iwao     Iwao
	Counted  Components   // variance components of the plants' mean counts per leaf
	Tallies  []TallyModel // empty unless there are counts
}

// Method says how an estimate was made.
type Method string

// The methods of the main estimates of rho and k.
const (
	MaximumLikelihood Method = "maximum likelihood"
	AdjustedProfile   Method = "adjusted profile likelihood"
	OverFields        Method = "likelihood over fields" // of sparse fields
)

// RhoResult is the rho to plan with, and all that is known of it.
type RhoResult struct {
	// Estimate is Pooled.Adjusted for two and more fields, and Pooled.Sparse
	// where that is known; for one field it is that field's maximum-likelihood
	// estimate.
	Estimate Estimate
	Method   Method
	Pooled   PooledRho
}

// KResult is the k of counts per leaf, and all that is known of it.
type KResult struct {
	Estimate Estimate // Common.ML
	Method   Method
	Common   CommonK
	Fit      Test // chi-square test of the negative binomial, summed over the fields, each with its own k
}

// FieldFit is what one field says.
type FieldFit struct {
	Label    string
	Stops    int
	Plants   int
	Infested int
	Rho      Rho
	K        K // zero unless there are counts
}

// Fit estimates all constants that the data carry. It is an error if an option
// is out of range or does not fit the data; what the data cannot carry is not.
func Fit(d *pilot.Data, o Options) (*Result, error) {
	if o.Confidence == 0 {
		o.Confidence = 0.95
	}
	if err := checkConfidence(o.Confidence); err != nil {
		return nil, err
	}
	d, err := o.atTally(d)
	if err != nil {
		return nil, err
	}
	r := &Result{Confidence: o.Confidence, Layout: d.Layout, Tally: d.Tally, Fields: len(d.Fields)}
	for _, part := range []func(*pilot.Data, Options) error{r.fitFields, r.fitShares, r.fitCounts, r.fitTallies} {
		if err := part(d, o); err != nil {
			return nil, err
		}
	}
	return r, nil
}

func (o Options) atTally(d *pilot.Data) (*pilot.Data, error) {
	if o.Tally == 0 && len(o.Tallies) == 0 {
		return d, nil
	}
	if d.Layout != pilot.PerLeaf {
		return nil, sampling.Refusef("a tally number needs counts (one row a leaf), the data have %s", d.Layout)
	}
	if o.Tally == 0 {
		return d, nil
	}
	return d.AtTally(o.Tally)
}

// StopCounts returns the stops of a field as this package takes them.
func StopCounts(f pilot.Field) []StopCount {
	out := make([]StopCount, len(f.Stops))
	for i, s := range f.Stops {
		out[i] = StopCount{s.Plants, s.Infested}
	}
	return out
}

func (r *Result) fitFields(d *pilot.Data, o Options) error {
	r.PerField = make([]FieldFit, len(d.Fields))
	errs := make([]error, len(d.Fields))
	var wg sync.WaitGroup
	workers := runtime.GOMAXPROCS(0)
	first := firsts(d)
	for w := range workers {
		wg.Go(func() {
			for i := w; i < len(d.Fields); i += workers {
				if first == nil || first[i] == i {
					r.PerField[i], errs[i] = fitField(d.Fields[i], d.Layout, o.Confidence)
				}
			}
		})
	}
	wg.Wait()
	for i, like := range first {
		if like != i && errs[like] == nil {
			r.PerField[i] = r.PerField[like]
			r.PerField[i].Label = d.Fields[i].Label()
		}
	}
	for i, one := range r.PerField {
		if errs[i] != nil {
			return errs[i]
		}
		r.Stops += one.Stops
		r.Plants += one.Plants
		r.Infested += one.Infested
		r.Leaves += one.K.Units
	}
	return nil
}

// firsts returns, where there are many fields, of each the first one whose stops saw
// the same, in whatever order: what is fitted to one holds for the other. It is nil
// where each is fitted for itself.
func firsts(d *pilot.Data) []int {
	if len(d.Fields) < manyFields || d.Layout == pilot.PerLeaf {
		return nil
	}
	first, at := make([]int, len(d.Fields)), map[string]int{}
	var key []byte
	for i, f := range d.Fields {
		stops := StopCounts(f)
		slices.SortFunc(stops, func(a, b StopCount) int {
			return cmp.Or(cmp.Compare(a.Plants, b.Plants), cmp.Compare(a.Infested, b.Infested))
		})
		key = key[:0]
		for _, s := range stops {
			key = binary.AppendUvarint(binary.AppendUvarint(key, uint64(s.Plants)), uint64(s.Infested))
		}
		like, seen := at[string(key)]
		if !seen {
			like = i
			at[string(key)] = i
		}
		first[i] = like
	}
	return first
}

func fitField(f pilot.Field, layout pilot.Layout, confidence float64) (one FieldFit, err error) {
	one = FieldFit{Label: f.Label(), Stops: len(f.Stops), Plants: f.Plants(), Infested: f.Infested()}
	if one.Rho, err = FitRho(StopCounts(f), confidence); err != nil || layout != pilot.PerLeaf {
		return one, err
	}
	c, err := NewCounts(f.Counts())
	if err != nil {
		return one, err
	}
	one.K, err = FitK(c, confidence)
	return one, err
}

func (r *Result) fitShares(d *pilot.Data, o Options) (err error) {
	fields, own := make([][]StopCount, len(d.Fields)), make([]float64, len(d.Fields))
	for i, f := range d.Fields {
		fields[i] = StopCounts(f)
		own[i] = r.PerField[i].Rho.LogLik
	}
	if r.Rho.Pooled, err = fitPooledRho(fields, own, o.Confidence); err != nil {
		return err
	}
	r.Rho.Estimate, r.Rho.Method = r.Rho.Pooled.Adjusted, AdjustedProfile
	if r.Rho.Pooled.Sparse.Known() {
		r.Rho.Estimate, r.Rho.Method = r.Rho.Pooled.Sparse, OverFields
	} else if r.Rho.Pooled.Fields == 1 {
		r.Rho.Estimate, r.Rho.Method = r.Rho.Pooled.ML, MaximumLikelihood
	}
	if r.Shape, err = CompareShapes(fields); err != nil {
		return err
	}
	r.PlantShares = PlantComponents(fields)
	r.Binary, err = FitBinaryPowerLaw(fields, o.Confidence)
	return err
}

func (r *Result) fitCounts(d *pilot.Data, o Options) (err error) {
	r.K.Method = MaximumLikelihood
	if d.Layout != pilot.PerLeaf {
		r.noCounts(fmt.Sprintf("counts are needed (one row a leaf), the data have %s", d.Layout))
		return nil
	}
	var counts []Counts
	var spreads []MeanVariance
	chi, df := 0.0, 0
	for i, f := range d.Fields {
		c, err := NewCounts(f.Counts())
		if err != nil {
			return err
		}
		counts = append(counts, c)
		if c.Units() > 1 {
			spreads = append(spreads, MeanVariance{c.Mean(), c.Variance()})
		}
		if t := r.PerField[i].K.Fit; t.Known() {
			chi, df = chi+t.Statistic, df+t.DF
		}
	}
	if r.K.Common, err = FitCommonK(counts, o.Confidence); err != nil {
		return err
	}
	r.K.Estimate = r.K.Common.ML
	r.K.Fit = chiSquareTest(chi, df)
	if df == 0 {
		r.K.Fit = noTest("there are too few counts in each field for a test of the fit")
	}
	if r.Taylor, err = FitTaylor(spreads, o.Confidence); err != nil {
		return err
	}
	if r.Iwao, err = FitIwao(spreads, o.Confidence); err != nil {
		return err
	}
	r.Counted = CountComponents(d.Fields)
	stops := make([][]Counts, len(d.Fields))
	for i, f := range d.Fields {
		for _, s := range f.Stops {
			c, err := NewCounts(s.Counts)
			if err != nil {
				return err
			}
			stops[i] = append(stops[i], c)
		}
	}
	r.CountRho, err = FitCountRho(stops, nil, o.Confidence)
	return err
}

func (r *Result) noCounts(why string) {
	no := missing("%s", why)
	r.K.Estimate, r.K.Common = no, CommonK{ML: no, BlissOwen: no, Same: noTest("%s", why)}
	r.K.Fit = noTest("%s", why)
	r.Taylor = Taylor{A: no, B: no}
	r.Iwao = Iwao{A: no, B: no}
	r.Counted = noComponents(why)
	r.CountRho = CountRho{Estimate: no, ANOVA: no, K: no.Value, KInterval: no, Method: AdjustedProfile}
}

func (r *Result) fitTallies(d *pilot.Data, o Options) error {
	if d.Layout != pilot.PerLeaf {
		return nil
	}
	tallies := o.Tallies
	if len(tallies) == 0 {
		tallies = []int{d.Tally}
	}
	for _, t := range tallies {
		at, err := d.AtTally(t)
		if err != nil {
			return err
		}
		points := make([]TallyPoint, len(at.Fields))
		for i, f := range at.Fields {
			points[i] = TallyPoint{Mean: r.PerField[i].K.Mean, Share: f.Share(), Plants: f.Plants()}
		}
		m, err := FitTally(t, points, o.Confidence)
		if err != nil {
			return err
		}
		r.Tallies = append(r.Tallies, m)
	}
	return nil
}
