package fitting

import (
	"fmt"
	"math"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/sampling/fit"
)

type fitJSON struct {
	report.Envelope
	Confidence  float64        `json:"confidence"`
	Data        fitDataJSON    `json:"data"`
	Rho         rhoJSON        `json:"rho"`
	K           kJSON          `json:"k"`
	CountRho    countRhoJSON   `json:"count_rho"`
	Taylor      lawJSON        `json:"taylor"`
	Iwao        lawJSON        `json:"iwao"`
	BinaryPower lawJSON        `json:"binary_power_law"`
	Shape       shapeJSON      `json:"shape"`
	Variance    varianceJSON   `json:"variance_components"`
	Tallies     []tallyJSON    `json:"tally_models"`
	PerField    []fieldFitJSON `json:"per_field"`
	Warnings    []warning      `json:"warnings"`
}

type fitDataJSON struct {
	File     string   `json:"file"`
	Layout   string   `json:"layout"`
	Rows     int      `json:"rows"`
	Fields   int      `json:"fields"`
	Stops    int      `json:"stops"`
	Plants   int      `json:"plants"`
	Infested int      `json:"infested"`
	Leaves   int      `json:"leaves"`
	Tally    *int     `json:"tally"`
	Ignored  []string `json:"ignored_columns"`
}

// estimateJSON has null for what is not known. A missing upper end beside a
// lower one is no limit.
type estimateJSON struct {
	Estimate *float64 `json:"estimate"`
	SE       *float64 `json:"standard_error"`
	Lower    *float64 `json:"lower"`
	Upper    *float64 `json:"upper"`
	Reason   string   `json:"reason,omitempty" csv:"-"`
}

type testJSON struct {
	Statistic *float64 `json:"statistic"`
	DF        *int     `json:"df"`
	P         *float64 `json:"p_value"`
	Reason    string   `json:"reason,omitempty"`
}

type rhoJSON struct {
	estimateJSON
	Method         string       `json:"method"`
	Fields         int          `json:"fields"`
	Stops          int          `json:"stops"`
	ML             estimateJSON `json:"maximum_likelihood"`
	ANOVA          estimateJSON `json:"anova"`
	Tarone         testJSON     `json:"tarone"`
	Same           testJSON     `json:"same_in_all_fields"`
	LogLik         *float64     `json:"log_likelihood"`
	BinomialLogLik *float64     `json:"binomial_log_likelihood"`
}

type kJSON struct {
	estimateJSON
	Method    string       `json:"method"`
	Fields    int          `json:"fields"`
	BlissOwen estimateJSON `json:"bliss_owen"`
	Same      testJSON     `json:"same_in_all_fields"`
	Fit       testJSON     `json:"goodness_of_fit"`
}

// lawJSON holds a law with two constants over fields. Level is the mean per
// leaf, or the share of plants infested for the binary power law.
type lawJSON struct {
	A        *float64 `json:"a"`
	ASE      *float64 `json:"a_standard_error"`
	ALower   *float64 `json:"a_lower"`
	AUpper   *float64 `json:"a_upper"`
	B        *float64 `json:"b"`
	BSE      *float64 `json:"b_standard_error"`
	BLower   *float64 `json:"b_lower"`
	BUpper   *float64 `json:"b_upper"`
	R2       *float64 `json:"r2"`
	MSE      *float64 `json:"residual_mean_square"`
	Fields   int      `json:"fields"`
	MinLevel *float64 `json:"valid_from"`
	MaxLevel *float64 `json:"valid_to"`
	Reason   string   `json:"reason,omitempty"`
}

type varianceJSON struct {
	Plants componentsJSON `json:"plants_infested"`
	Counts componentsJSON `json:"mean_per_leaf"`
}

type componentsJSON struct {
	Between       *float64 `json:"between_stops"`
	Within        *float64 `json:"within_stops"`
	Correlation   *float64 `json:"intraclass_correlation"`
	PlantsPerStop *float64 `json:"plants_per_stop"`
	DFBetween     int      `json:"df_between"`
	DFWithin      int      `json:"df_within"`
	F             testJSON `json:"f_test"`
	Reason        string   `json:"reason,omitempty"`
}

type tallyJSON struct {
	Tally       int                   `json:"tally"`
	Rho         estimateJSON          `json:"rho"`
	C           estimateJSON          `json:"c"`
	D           estimateJSON          `json:"d"`
	MSE         *float64              `json:"residual_mean_square"`
	R2          *float64              `json:"r2"`
	Fields      int                   `json:"fields"`
	Left        int                   `json:"fields_left_out"`
	MinShare    *float64              `json:"valid_from"`
	MaxShare    *float64              `json:"valid_to"`
	Predictions []tallyPredictionJSON `json:"predictions"`
}

type tallyPredictionJSON struct {
	P            float64 `json:"p"`
	Plants       int     `json:"plants"`
	DesignEffect float64 `json:"design_effect"`
	Mean         float64 `json:"mean"`
	Variance     float64 `json:"ln_mean_variance"`
	Fields       float64 `json:"part_fields"`
	Level        float64 `json:"part_level"`
	Slope        float64 `json:"part_slope"`
	Sampling     float64 `json:"part_sampling"`
}

type fieldFitJSON struct {
	Field    string       `json:"field"`
	Stops    int          `json:"stops"`
	Plants   int          `json:"plants"`
	Infested int          `json:"infested"`
	Rho      estimateJSON `json:"rho"`
	ANOVA    estimateJSON `json:"rho_anova"`
	Tarone   testJSON     `json:"tarone"`
	Counts   *countsJSON  `json:"counts"`
}

type countsJSON struct {
	Leaves   int          `json:"leaves"`
	Mean     *float64     `json:"mean"`
	Variance *float64     `json:"variance"`
	K        estimateJSON `json:"k"`
	Moments  estimateJSON `json:"k_moments"`
	Zeros    estimateJSON `json:"k_zeros"`
	Fit      testJSON     `json:"goodness_of_fit"`
}

func estimateOf(e fit.Estimate) estimateJSON {
	return estimateJSON{report.Finite(e.Value), report.Finite(e.SE), report.Finite(e.Lower), report.Finite(e.Upper), e.Missing}
}

func testOf(t fit.Test) testJSON {
	return testJSON{report.Finite(t.Statistic), report.OrNull(t.DF, 0), report.Finite(t.P), t.Missing}
}

func lawOf(a, b fit.Estimate, line fit.Regression, from, to float64) lawJSON {
	l := lawJSON{
		A: report.Finite(a.Value), ASE: report.Finite(a.SE), ALower: report.Finite(a.Lower), AUpper: report.Finite(a.Upper),
		B: report.Finite(b.Value), BSE: report.Finite(b.SE), BLower: report.Finite(b.Lower), BUpper: report.Finite(b.Upper),
		Fields: line.Fields, Reason: b.Missing,
	}
	if b.Known() {
		l.R2, l.MSE, l.MinLevel, l.MaxLevel = report.Finite(line.R2), report.Finite(line.MSE), report.Finite(from), report.Finite(to)
	}
	return l
}

func componentsOf(c fit.Components) componentsJSON {
	return componentsJSON{report.Finite(c.Between), report.Finite(c.Within), report.Finite(c.IntraclassCorrelation), report.Finite(c.PlantsPerStop),
		c.DFBetween, c.DFWithin, testOf(c.F), c.Missing}
}

func (f *fitting) json() fitJSON {
	p, b := f.Rho.Pooled, f.Binary
	j := fitJSON{
		Envelope: report.Envelope{Kind: "stopwise fit", Version: 1}, Confidence: f.Confidence,
		Data: fitDataJSON{f.file, f.Layout.String(), f.data.Rows, f.Fields, f.Stops, f.Plants, f.Infested, f.Leaves,
			report.OrNull(f.Tally, 0), append([]string{}, f.data.Ignored...)},
		Rho: rhoJSON{estimateOf(f.Rho.Estimate), string(f.Rho.Method), p.Fields, p.Stops, estimateOf(p.ML), estimateOf(p.ANOVA),
			testOf(f.tarone()), testOf(p.Same), report.Finite(p.LogLik), report.Finite(p.BinomialLogLik)},
		K: kJSON{estimateOf(f.K.Estimate), string(f.K.Method), f.K.Common.Fields, estimateOf(f.K.Common.BlissOwen),
			testOf(f.K.Common.Same), testOf(f.K.Fit)},
		CountRho:    f.countRhoJSON(),
		Shape:       f.shapeJSON(),
		Taylor:      lawOf(f.Taylor.A, f.Taylor.B, f.Taylor.Line, f.Taylor.MinMean, f.Taylor.MaxMean),
		Iwao:        lawOf(f.Iwao.A, f.Iwao.B, f.Iwao.Line, f.Iwao.MinMean, f.Iwao.MaxMean),
		BinaryPower: lawOf(b.A, b.B, b.Line, b.MinShare, b.MaxShare),
		Variance:    varianceJSON{componentsOf(f.PlantShares), componentsOf(f.Counted)},
		Tallies:     []tallyJSON{}, Warnings: f.warnings,
	}
	for i, m := range f.Tallies {
		j.Tallies = append(j.Tallies, tallyJSON{m.T, estimateOf(f.atTally[i]), estimateOf(m.C), estimateOf(m.D), report.Finite(m.MSE),
			report.Finite(m.Line.R2), m.Fields, m.Left, report.Finite(m.MinShare), report.Finite(m.MaxShare), f.predictions(i)})
	}
	for _, one := range f.PerField {
		j.PerField = append(j.PerField, f.fieldJSON(one))
	}
	return j
}

func (f *fitting) fieldJSON(one fit.FieldFit) fieldFitJSON {
	j := fieldFitJSON{one.Label, one.Stops, one.Plants, one.Infested, estimateOf(one.Rho.ML), estimateOf(one.Rho.ANOVA), testOf(one.Rho.Tarone), nil}
	if k := one.K; f.Leaves > 0 {
		j.Counts = &countsJSON{k.Units, report.Finite(k.Mean), report.Finite(k.Variance), estimateOf(k.ML), estimateOf(k.Moments), estimateOf(k.Zeros), testOf(k.Fit.Test)}
	}
	return j
}

// predictions are made for as many plants as a field of the pilot had.
func (f *fitting) predictions(i int) []tallyPredictionJSON {
	m, out := f.Tallies[i], []tallyPredictionJSON{}
	if !m.D.Known() {
		return out
	}
	plants, deff := f.plantsPerField(), f.designEffect(f.atTally[i])
	for _, p := range []float64{0.05, 0.1, 0.25, 0.5, 0.75, 0.9} {
		if p < m.MinShare || p > m.MaxShare {
			continue
		}
		v := m.LogMeanVariance(p, plants, deff)
		out = append(out, tallyPredictionJSON{p, plants, deff, math.Exp(m.LogMean(p)), v.Total(), v.Fields, v.Level, v.Slope, v.Sampling})
	}
	return out
}

// A fitRow is a constant as CSV, where JSON has each at its own place.
type fitRow struct {
	Constant string `json:"constant"`
	Field    string `json:"field"`
	estimateJSON
	Fields int    `json:"fields"`
	Method string `json:"method"`
	Reason string `json:"reason"`
}

// records has one row a constant, those of the fields after those of all.
func (f *fitting) records() *report.Records {
	var rows []fitRow
	add := func(name, field string, e fit.Estimate, fields int, method string) {
		rows = append(rows, fitRow{name, field, estimateOf(e), fields, method, e.Missing})
	}
	component := func(name string, v float64, c fit.Components) {
		rows = append(rows, fitRow{name, "", estimateJSON{Estimate: report.Finite(v)}, f.Fields, "analysis of variance", c.Missing})
	}
	p, ml := f.Rho.Pooled, string(fit.MaximumLikelihood)
	add("rho", "", f.Rho.Estimate, p.Fields, string(f.Rho.Method))
	add("rho_ml", "", p.ML, p.Fields, ml)
	add("rho_anova", "", p.ANOVA, p.Fields, "analysis of variance")
	add("k", "", f.K.Estimate, f.K.Common.Fields, string(f.K.Method))
	add("k_bliss_owen", "", f.K.Common.BlissOwen, f.K.Common.Fields, "weighted regression")
	add("count_rho", "", f.CountRho.Estimate, f.CountRho.Fields, string(f.CountRho.Method))
	add("count_rho_anova", "", f.CountRho.ANOVA, f.CountRho.Fields, "analysis of variance")
	const line = "least squares"
	add("taylor_a", "", f.Taylor.A, f.Taylor.Line.Fields, line)
	add("taylor_b", "", f.Taylor.B, f.Taylor.Line.Fields, line)
	add("iwao_a", "", f.Iwao.A, f.Iwao.Line.Fields, line)
	add("iwao_b", "", f.Iwao.B, f.Iwao.Line.Fields, line)
	add("binary_power_a", "", f.Binary.A, f.Binary.Line.Fields, line)
	add("binary_power_b", "", f.Binary.B, f.Binary.Line.Fields, line)
	component("variance_between_stops", f.PlantShares.Between, f.PlantShares)
	component("variance_within_stops", f.PlantShares.Within, f.PlantShares)
	component("count_variance_between_stops", f.Counted.Between, f.Counted)
	component("count_variance_within_stops", f.Counted.Within, f.Counted)
	for _, m := range f.Tallies {
		add(fmt.Sprintf("tally_%d_c", m.T), "", m.C, m.Fields, line)
		add(fmt.Sprintf("tally_%d_d", m.T), "", m.D, m.Fields, line)
		rows = append(rows, fitRow{fmt.Sprintf("tally_%d_residual_mean_square", m.T), "", estimateJSON{Estimate: report.Finite(m.MSE)}, m.Fields, line, m.D.Missing})
	}
	for _, one := range f.PerField {
		add("rho_ml", one.Label, one.Rho.ML, 1, ml)
		add("rho_anova", one.Label, one.Rho.ANOVA, 1, "analysis of variance")
		if f.Leaves > 0 {
			add("k", one.Label, one.K.ML, 1, ml)
			add("k_moments", one.Label, one.K.Moments, 1, "moments")
			add("k_zeros", one.Label, one.K.Zeros, 1, "zeros")
		}
	}
	return report.RecordsOf(rows)
}
