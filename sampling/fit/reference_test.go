package fit

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"stopwise/sampling/pilot"
)

// References are fits made outside the project: mpmath at 40 digits beside R;
// the file names versions, formulas and the literature of each data set.
type references struct {
	NegativeBinomial []struct {
		Name         string
		Frequency    [][2]int
		N            int
		Mean         float64
		Variance     float64
		KMoments     *float64 `json:"k_moments"`
		KZeros       *float64 `json:"k_zeros"`
		KML          *float64 `json:"k_ml"`
		KMLSE        *float64 `json:"k_ml_se"`
		KLower       *float64 `json:"k_lower"`
		KUpper       *float64 `json:"k_upper"`
		LogLik       float64  `json:"log_likelihood"`
		LogLikPoison float64  `json:"log_likelihood_poisson"`
	} `json:"negative_binomial"`
	CommonK []struct {
		Name   string
		Sets   []string
		KML    float64 `json:"k_ml"`
		KMLSE  float64 `json:"k_ml_se"`
		KLower float64 `json:"k_lower"`
		KUpper float64 `json:"k_upper"`
		LogLik float64 `json:"log_likelihood"`
		LR     float64 `json:"likelihood_ratio"`
		DF     int
	} `json:"common_k"`
	BetaBinomial []struct {
		Name        string
		Rows        [][2]int // found, examined
		ClusterSize int      `json:"cluster_size"`
		Frequency   [][2]int
		P, Rho      float64
		PSE         float64 `json:"p_se"`
		RhoSE       float64 `json:"rho_se"`
		RhoLower    float64 `json:"rho_lower"`
		RhoUpper    float64 `json:"rho_upper"`
		LogLik      float64 `json:"log_likelihood"`
		Binomial    float64 `json:"log_likelihood_binomial"`
		RhoANOVA    float64 `json:"rho_anova"`
		MSBetween   float64 `json:"ms_between"`
		MSWithin    float64 `json:"ms_within"`
		N0          float64
		TaroneZ     float64 `json:"tarone_z"`
		TaroneP     float64 `json:"tarone_p_one_sided"`
	} `json:"beta_binomial"`
	MeanVariance []struct {
		Name    string
		Points  [][3]any // name, mean, variance
		Taylor  refLine  `json:"taylor_natural"`
		TaylorA float64  `json:"taylor_a"`
		TaylorB float64  `json:"taylor_b"`
		Iwao    refLine
	} `json:"mean_variance"`
}

type refLine struct {
	Intercept, Slope float64
	InterceptSE      float64 `json:"intercept_se"`
	SlopeSE          float64 `json:"slope_se"`
	R2               float64 `json:"r_squared"`
	ResidualSD       float64 `json:"residual_sd"`
}

func readJSON(t *testing.T, file string, into any) {
	t.Helper()
	text, err := os.ReadFile("../../testdata/ref/" + file)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, into); err != nil {
		t.Fatal(err)
	}
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Max(1e-12, math.Abs(want))) {
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

// nearOr compares with a reference that is null where there is no value.
func nearOr(t *testing.T, what string, got Estimate, want *float64, tolerance float64) {
	t.Helper()
	if want == nil {
		if got.Known() || !math.IsNaN(got.Value) {
			t.Errorf("%s = %v, want none", what, got)
		}
		return
	}
	if !got.Known() {
		t.Errorf("%s is missing (%s), want %g", what, got.Missing, *want)
		return
	}
	near(t, what, got.Value, *want, tolerance)
}

const (
	closedForm = 1e-12
	iterated   = 1e-9 // the references hold to 1e-13
)

func refCounts(t *testing.T, rows [][2]int) Counts {
	t.Helper()
	var table []pilot.Frequency
	for _, f := range rows {
		if f[1] > 0 {
			table = append(table, pilot.Frequency{Count: f[0], Leaves: f[1]})
		}
	}
	c, err := NewCounts(table)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestNegativeBinomialReferences(t *testing.T) {
	var ref references
	readJSON(t, "fits.json", &ref)
	sets := map[string]Counts{}
	infinite := 0
	for _, s := range ref.NegativeBinomial {
		c := refCounts(t, s.Frequency)
		sets[s.Name] = c
		t.Run(s.Name, func(t *testing.T) {
			k, err := FitK(c, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "units", float64(k.Units), float64(s.N), 0)
			near(t, "mean", k.Mean, s.Mean, closedForm)
			near(t, "variance", k.Variance, s.Variance, closedForm)
			nearOr(t, "k by moments", k.Moments, s.KMoments, closedForm)
			nearOr(t, "k by zeros", k.Zeros, s.KZeros, closedForm)
			nearOr(t, "k", k.ML, s.KML, iterated)
			near(t, "lower", k.ML.Lower, *s.KLower, iterated)
			if s.KUpper == nil {
				near(t, "1/upper", 1/k.ML.Upper, 0, 0)
			} else {
				near(t, "upper", k.ML.Upper, *s.KUpper, iterated)
			}
			near(t, "log-likelihood", k.LogLik, s.LogLik, 1e-11)
			near(t, "Poisson log-likelihood", k.PoissonLogLik, s.LogLikPoison, 1e-11)
			if s.KML == nil {
				infinite++
				if !strings.HasPrefix(k.ML.Missing, NoClumping) {
					t.Error(k.ML.Missing)
				}
				return
			}
			near(t, "standard error", k.ML.SE, *s.KMLSE, iterated)
		})
	}
	if len(ref.NegativeBinomial) < 10 || infinite == 0 {
		t.Errorf("%d sets, %d of them without clumping", len(ref.NegativeBinomial), infinite)
	}
	if len(ref.CommonK) == 0 {
		t.Error("no references for a common k")
	}
	for _, s := range ref.CommonK {
		var fields []Counts
		for _, name := range s.Sets {
			fields = append(fields, sets[name])
		}
		k, err := FitCommonK(fields, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		near(t, s.Name+" k", k.ML.Value, s.KML, iterated)
		near(t, s.Name+" standard error", k.ML.SE, s.KMLSE, iterated)
		near(t, s.Name+" lower", k.ML.Lower, s.KLower, iterated)
		near(t, s.Name+" upper", k.ML.Upper, s.KUpper, iterated)
		near(t, s.Name+" log-likelihood", k.LogLik, s.LogLik, 1e-11)
		near(t, s.Name+" likelihood ratio", k.Same.Statistic, s.LR, 1e-8)
		near(t, s.Name+" degrees of freedom", float64(k.Same.DF), float64(s.DF), 0)
	}
}

func refStops(rows, frequency [][2]int, size int) []StopCount {
	var stops []StopCount
	for _, r := range rows {
		stops = append(stops, StopCount{Plants: r[1], Infested: r[0]})
	}
	for _, f := range frequency {
		for range f[1] {
			stops = append(stops, StopCount{Plants: size, Infested: f[0]})
		}
	}
	return stops
}

func TestBetaBinomialReferences(t *testing.T) {
	var ref references
	readJSON(t, "fits.json", &ref)
	atZero := 0
	for _, s := range ref.BetaBinomial {
		t.Run(s.Name, func(t *testing.T) {
			stops := refStops(s.Rows, s.Frequency, s.ClusterSize)
			r, err := FitRho(stops, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "p", r.Share.Value, s.P, iterated)
			near(t, "standard error of p", r.Share.SE, s.PSE, iterated)
			near(t, "rho", r.ML.Value, s.Rho, 1e-8)
			near(t, "standard error of rho", r.ML.SE, s.RhoSE, 1e-6)
			near(t, "lower", r.ML.Lower, s.RhoLower, iterated)
			near(t, "upper", r.ML.Upper, s.RhoUpper, iterated)
			near(t, "log-likelihood", r.LogLik, s.LogLik, 1e-11)
			near(t, "binomial log-likelihood", r.BinomialLogLik, s.Binomial, 1e-11)
			near(t, "analysis of variance", r.ANOVA.Value, s.RhoANOVA, 1e-11)
			near(t, "Tarone's Z", r.Tarone.Statistic, s.TaroneZ, 1e-11)
			near(t, "Tarone's P", r.Tarone.P, s.TaroneP, 1e-9)
			c := PlantComponents([][]StopCount{stops})
			near(t, "mean square between", c.MSBetween, s.MSBetween, 1e-11)
			near(t, "mean square within", c.MSWithin, s.MSWithin, 1e-11)
			near(t, "n0", c.PlantsPerStop, s.N0, closedForm)
			if s.RhoLower == 0 {
				atZero++
			}
		})
	}
	if len(ref.BetaBinomial) < 5 || atZero == 0 {
		t.Errorf("%d sets, %d of them with an interval from 0", len(ref.BetaBinomial), atZero)
	}
}

func (l refLine) compare(t *testing.T, r Regression) {
	t.Helper()
	near(t, "intercept", r.Intercept.Value, l.Intercept, 1e-11)
	near(t, "slope", r.Slope.Value, l.Slope, 1e-11)
	near(t, "standard error of intercept", r.Intercept.SE, l.InterceptSE, 1e-11)
	near(t, "standard error of slope", r.Slope.SE, l.SlopeSE, 1e-11)
	near(t, "r squared", r.R2, l.R2, 1e-11)
	near(t, "residual standard deviation", math.Sqrt(r.MSE), l.ResidualSD, 1e-11)
}

func TestLineReferences(t *testing.T) {
	var ref references
	readJSON(t, "fits.json", &ref)
	if len(ref.MeanVariance) == 0 {
		t.Fatal("no references")
	}
	for _, s := range ref.MeanVariance {
		t.Run(s.Name, func(t *testing.T) {
			var fields []MeanVariance
			for _, p := range s.Points {
				fields = append(fields, MeanVariance{p[1].(float64), p[2].(float64)})
			}
			taylor, err := FitTaylor(fields, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			s.Taylor.compare(t, taylor.Line)
			near(t, "a", taylor.A.Value, s.TaylorA, 1e-11)
			near(t, "b", taylor.B.Value, s.TaylorB, 1e-11)
			iwao, err := FitIwao(fields, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			s.Iwao.compare(t, iwao.Line)
		})
	}
}

func TestTallyReferences(t *testing.T) {
	var ref struct {
		Empirical struct {
			Fields      [][2]float64
			C, D        float64
			CSE         float64 `json:"c_se"`
			DSE         float64 `json:"d_se"`
			MSE         float64
			R2          float64 `json:"r_squared"`
			XMean       float64 `json:"x_mean"`
			Predictions []struct {
				P, Deff  float64
				Plants   int
				LogMean  float64    `json:"ln_mean"`
				Parts    [4]float64 `json:"variance_parts"`
				Variance float64
			}
		}
	}
	readJSON(t, "tally.json", &ref)
	e := ref.Empirical
	var points []TallyPoint
	for _, f := range e.Fields {
		points = append(points, TallyPoint{Mean: f[0], Share: f[1]})
	}
	points = append(points, TallyPoint{Mean: 0.4, Share: 0}, TallyPoint{Mean: 900, Share: 1})
	m, err := FitTally(50, points, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if m.T != 50 || m.Fields != len(e.Fields) || m.Left != 2 || m.MinShare != 0.03 || m.MaxShare != 0.74 {
		t.Errorf("%+v", m)
	}
	near(t, "c", m.C.Value, e.C, 1e-11)
	near(t, "d", m.D.Value, e.D, 1e-11)
	near(t, "standard error of c", m.C.SE, e.CSE, 1e-11)
	near(t, "standard error of d", m.D.SE, e.DSE, 1e-11)
	near(t, "MSE", m.MSE, e.MSE, 1e-11)
	near(t, "r squared", m.Line.R2, e.R2, 1e-11)
	near(t, "mean x", m.Line.MeanX, e.XMean, 1e-11)
	if len(e.Predictions) == 0 {
		t.Error("no predictions")
	}
	for _, p := range e.Predictions {
		v := m.LogMeanVariance(p.P, p.Plants, p.Deff)
		near(t, "ln mean", m.LogMean(p.P), p.LogMean, 1e-11)
		near(t, "part of fields", v.Fields, p.Parts[0], 1e-11)
		near(t, "part of level", v.Level, p.Parts[1], 1e-11)
		near(t, "part of slope", v.Slope, p.Parts[2], 1e-9)
		near(t, "part of sampling", v.Sampling, p.Parts[3], 1e-11)
		near(t, "variance", v.Total(), p.Variance, 1e-10)
	}
}
