package fit

import (
	"math"
	"testing"
)

func counts(t *testing.T, units ...int) Counts {
	t.Helper()
	c, err := CountsOf(units...)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// rounded reports whether got is the printed value to its last digit.
func rounded(t *testing.T, what string, got, printed float64, digits int) {
	t.Helper()
	if math.Abs(got-printed) > 0.5*math.Pow10(-digits)+1e-12 {
		t.Errorf("%s = %.8g, printed %g", what, got, printed)
	}
}

// Bliss, C.I. & Fisher, R.A. (1953) Biometrics 9: 176-200, European red mites
// on 150 apple leaves. The counts are also in the examples of the R package
// VGAM ("apple tree data"). Mean 1.1467, variance 2.2736 and k 1.0246 are
// printed values from memory. The standard error is that of MASS::glm.nb 7.3.58
// in R 4.2.2, which takes the observed information.
func TestBlissFisherMites(t *testing.T) {
	k, err := FitK(counts(t, 70, 38, 17, 10, 9, 3, 2, 1), 0.95)
	if err != nil {
		t.Fatal(err)
	}
	rounded(t, "mean", k.Mean, 1.14667, 5)
	rounded(t, "variance", k.Variance, 2.27365, 5)
	rounded(t, "k", k.ML.Value, 1.02459, 5)
	rounded(t, "standard error", k.ML.SE, 0.2759, 4)
	rounded(t, "log-likelihood", k.LogLik, -222.4372, 4)
	// scipy 1.10.1 on the expected units of mpmath 1.2.1: classes 0, 1, 2, 3,
	// 4 and "5 and above".
	rounded(t, "chi-square", k.Fit.Statistic, 2.490355820813, 9)
	rounded(t, "P", k.Fit.P, 0.477036524098, 9)
	if k.Fit.DF != 3 || len(k.Fit.Classes) != 6 || k.Fit.Classes[5] != (Class{5, -1, 6, k.Fit.Classes[5].Expected}) {
		t.Errorf("%+v", k.Fit)
	}
	// Expected units at k = 1.0246, computed independently outside the project.
	for x, want := range []float64{69.49, 37.60, 20.10, 10.70, 5.69, 6.42} {
		rounded(t, "expected", k.Fit.Classes[x].Expected, want, 2)
	}
}

// The four treatments of Bliss & Fisher (1953), table 3: corn borers of Beall
// (1940). Means and k as printed there are in the manual of the R package
// agridat (bliss.borers). The k of treatments 1, 2 and 4 are hand iterations of
// 1953 and not converged: .03, .004 and .04 off. The converged values are those
// of MASS::glm.nb, and mpmath at 40 digits.
func TestBlissFisherBorers(t *testing.T) {
	tests := []struct {
		units              []int
		mean, printed, off float64
	}{
		{[]int{19, 12, 18, 18, 11, 12, 7, 8, 4, 4, 1, 0, 1, 1, 0, 1, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0, 1}, 4.033333, 1.532, 0.03},
		{[]int{24, 16, 16, 18, 15, 9, 6, 5, 3, 4, 3, 0, 1}, 3.166667, 1.764, 0.004},
		{[]int{43, 35, 17, 11, 5, 4, 1, 2, 2}, 1.483333, 1.333, 0.0005},
		{[]int{47, 23, 27, 9, 7, 3, 1, 1, 0, 0, 1, 1}, 1.508333, 1.190, 0.04},
	}
	var fields []Counts
	for _, test := range tests {
		c := counts(t, test.units...)
		fields = append(fields, c)
		k, err := FitK(c, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		rounded(t, "mean", k.Mean, test.mean, 6)
		if math.Abs(k.ML.Value-test.printed) > test.off {
			t.Errorf("k = %g, printed %g", k.ML.Value, test.printed)
		}
	}
	// A common k of "about 1.47" is given there too.
	k, err := FitCommonK(fields, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	rounded(t, "common k", k.ML.Value, 1.47, 2)
	// The regression of Bliss & Owen (1958), solved with scipy 1.10.1 (brentq)
	// from their weights.
	near(t, "k by regression", k.BlissOwen.Value, 1.4137668675983972, 1e-10)
	near(t, "its standard error", k.BlissOwen.SE, 0.19341831899688156, 1e-10)
	near(t, "its lower end", k.BlissOwen.Lower, 1.1148315938354838, 1e-10)
	near(t, "its upper end", k.BlissOwen.Upper, 1.9317552139177832, 1e-10)
}

// Further published counts; k, its standard error and the log-likelihood are
// from MASS::glm.nb 7.3.58 and VGAM 1.1.7 in R 4.2.2.
func TestPublishedCounts(t *testing.T) {
	tests := []struct {
		source        string
		units         []int
		k, se, loglik float64
	}{
		{"McGuire, Brindley & Bancroft (1957) Biometrics 13: 65-78, corn borers", []int{188, 83, 36, 14, 2, 1}, 1.848650, 0.6845, -355.9550},
		{"Greenwood & Yule (1920) J. R. Stat. Soc. 83: 255-279, accidents", []int{447, 132, 42, 21, 3, 2}, 0.865116, 0.1863, -592.2671},
	}
	for _, test := range tests {
		k, err := FitK(counts(t, test.units...), 0.95)
		if err != nil {
			t.Fatal(err)
		}
		rounded(t, test.source+": k", k.ML.Value, test.k, 6)
		rounded(t, test.source+": standard error", k.ML.SE, test.se, 4)
		rounded(t, test.source+": log-likelihood", k.LogLik, test.loglik, 4)
	}
}

// Student (1907) Biometrika 5: 351-360, yeast cells, samples 2 and 4: the
// variance is below the mean, so there is no k.
func TestStudentYeast(t *testing.T) {
	for _, units := range [][]int{
		{103, 143, 98, 42, 8, 4, 2},
		{0, 20, 43, 53, 86, 70, 54, 37, 18, 10, 5, 2, 2},
	} {
		k, err := FitK(counts(t, units...), 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if k.ML.Known() || k.Moments.Known() || k.ML.Missing != underdispersed {
			t.Errorf("%+v", k)
		}
		if !(k.ML.Lower > 5) || !math.IsInf(k.ML.Upper, 1) {
			t.Errorf("k from %g to %g", k.ML.Lower, k.ML.Upper)
		}
	}
}

func clusters(size int, frequency ...int) []StopCount {
	var stops []StopCount
	for x, n := range frequency {
		for range n {
			stops = append(stops, StopCount{size, x})
		}
	}
	return stops
}

// Geissler's 6115 Saxon families of 12 (R package vcd, data Saxony). The shapes
// 34.09558 and 31.5715 printed in an encyclopedia are not converged: its
// log-likelihood -12492.9 is. VGAM 1.1.7 finds 34.10286 and 31.57823; the
// binomial's AIC is 25070.34.
func TestGeisslerFamilies(t *testing.T) {
	r, err := FitRho(clusters(12, 3, 24, 104, 286, 670, 1033, 1343, 1112, 829, 478, 181, 45, 7), 0.95)
	if err != nil {
		t.Fatal(err)
	}
	theta := thetaOf(r.ML.Value)
	rounded(t, "shape 1", r.Share.Value/theta, 34.10286, 5)
	rounded(t, "shape 2", (1-r.Share.Value)/theta, 31.57823, 5)
	near(t, "printed shape 1", r.Share.Value/theta, 34.09558, 1e-3)
	near(t, "printed shape 2", (1-r.Share.Value)/theta, 31.5715, 1e-3)
	rounded(t, "log-likelihood", r.LogLik, -12492.9, 1)
	rounded(t, "binomial AIC", 2-2*r.BinomialLogLik, 25070.34, 2)
}

// Skellam (1948) J. R. Stat. Soc. B 10: 257-261, 337 nuclei with 3 chromosomes
// each (counts from memory). p .5807 with standard error .0168 and theta .0949
// are computed by R's VGAM 1.1.7.
func TestSkellamNuclei(t *testing.T) {
	r, err := FitRho(clusters(3, 32, 103, 122, 80), 0.95)
	if err != nil {
		t.Fatal(err)
	}
	rounded(t, "p", r.Share.Value, 0.580712, 6)
	rounded(t, "standard error of p", r.Share.SE, 0.01681, 5)
	rounded(t, "theta", thetaOf(r.ML.Value), 0.094892, 6)
	rounded(t, "rho", r.ML.Value, 0.086668, 6)
	rounded(t, "log-likelihood", r.LogLik, -436.8130, 4)
}

// The four cells of Crowder, M.J. (1978) Beta-binomial Anova for proportions.
// Appl. Stat. 27: 34-37 (Orobanche seeds germinated; counts from memory), as
// four fields that share one rho. The values were found with mpmath 1.2.1 at 30
// digits, from the log-gamma form of the likelihood with numerical derivatives;
// the tests and the analysis of variance with scipy 1.10.1.
func TestCrowderPooled(t *testing.T) {
	cells := [][][2]int{
		{{10, 39}, {23, 62}, {23, 81}, {26, 51}, {17, 39}},
		{{5, 6}, {53, 74}, {55, 72}, {32, 51}, {46, 79}, {10, 13}},
		{{8, 16}, {10, 30}, {8, 28}, {23, 45}, {0, 4}},
		{{3, 12}, {22, 41}, {15, 30}, {32, 51}, {3, 7}},
	}
	var fields [][]StopCount
	for _, c := range cells {
		fields = append(fields, refStops(c, nil, 0))
	}
	r, err := FitPooledRho(fields, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "rho", r.ML.Value, 0.0123608896276981075, 1e-9)
	near(t, "its standard error", r.ML.SE, 0.0113510307443427873, 1e-6)
	near(t, "its lower end", r.ML.Lower, 0, 0)
	near(t, "its upper end", r.ML.Upper, 0.0492728982157393672, 1e-9)
	near(t, "log-likelihood", r.LogLik, -53.7667633648683635, 1e-12)
	near(t, "adjusted rho", r.Adjusted.Value, 0.0212428992503537369, 1e-9)
	near(t, "its standard error", r.Adjusted.SE, 0.0160546374892373047, 1e-6)
	near(t, "its lower end", r.Adjusted.Lower, 0.00100725365539623694, 1e-9)
	near(t, "its upper end", r.Adjusted.Upper, 0.0739611435855414819, 1e-9)
	near(t, "analysis of variance", r.ANOVA.Value, 0.02377587160268202, 1e-12)
	near(t, "Tarone's Z", r.Tarone.Statistic, 2.7822054152674225, 1e-12)
	near(t, "likelihood ratio", r.Same.Statistic, 0.20122856349307483, 1e-9)
	if r.Fields != 4 || r.Stops != 21 || r.Same.DF != 3 {
		t.Errorf("%+v", r)
	}
	c := PlantComponents(fields)
	near(t, "mean square between", c.MSBetween, 0.43423537956394814, 1e-12)
	near(t, "mean square within", c.MSWithin, 0.22743015520334414, 1e-12)
	near(t, "n0", c.PlantsPerStop, 37.335893478533436, 1e-12)
	near(t, "between", c.Between, 0.00553904581068907, 1e-12)
	near(t, "F", c.F.Statistic, 1.9093131215414267, 1e-12)
	near(t, "P", c.F.P, 0.014547897854536028, 1e-11)
	if c.DFBetween != 17 || c.DFWithin != 810 {
		t.Errorf("%+v", c)
	}
}

// Invented stops of 20 plants; the line is scipy.stats.linregress 1.10.1.
func TestBinaryPowerLaw(t *testing.T) {
	var fields [][]StopCount
	for _, infested := range [][]int{
		{1, 0, 2, 0, 1, 0, 0, 3}, {2, 1, 5, 0, 3, 1, 2, 4}, {4, 2, 9, 3, 6, 1, 5, 8},
		{7, 3, 12, 5, 10, 4, 8, 13}, {9, 6, 15, 8, 12, 5, 11, 18}, {14, 10, 18, 12, 20, 9, 16, 17},
		{0, 0, 0, 0}, {20, 20, 20}, {5, 5, 5}, {7}, // say nothing
	} {
		var stops []StopCount
		for _, x := range infested {
			stops = append(stops, StopCount{20, x})
		}
		fields = append(fields, stops)
	}
	b, err := FitBinaryPowerLaw(fields, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "A", b.A.Value, 33.72889209288144, 1e-11)
	near(t, "lower A", b.A.Lower, 2.3962939464351067, 1e-9)
	near(t, "upper A", b.A.Upper, 474.74900293666803, 1e-9)
	near(t, "B", b.B.Value, 1.533596612538092, 1e-11)
	near(t, "standard error of B", b.B.SE, 0.19151003175672368, 1e-11)
	near(t, "standard error of ln A", b.Line.Intercept.SE, 0.9524522715617371, 1e-11)
	near(t, "r squared", b.Line.R2, 0.9412859112267319, 1e-11)
	near(t, "rho at 20%", b.Rho(0.2), 0.08237172441798855, 1e-11)
	near(t, "plants", b.Plants, 20, 1e-14)
	near(t, "least share", b.MinShare, 7.0/160, 1e-14)
	near(t, "largest share", b.MaxShare, 116.0/160, 1e-14)
	if b.Line.Fields != 6 {
		t.Errorf("%d fields", b.Line.Fields)
	}
}
