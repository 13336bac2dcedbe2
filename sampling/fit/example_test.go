package fit_test

import (
	"fmt"
	"strings"

	"stopwise/sampling/fit"
	"stopwise/sampling/pilot"
)

// Invented counts: three fields of six stops of 20 plants.
func ExampleFit() {
	table := "field,stop,plants,infested\n"
	for i, field := range [][]int{{0, 1, 0, 3, 0, 2}, {2, 6, 1, 8, 4, 3}, {9, 4, 12, 7, 15, 5}} {
		for j, x := range field {
			table += fmt.Sprintf("Field %d,%d,20,%d\n", i+1, j+1, x)
		}
	}
	data, err := pilot.Read(strings.NewReader(table))
	if err != nil {
		fmt.Println(err)
		return
	}
	result, err := fit.Fit(data, fit.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	rho := result.Rho.Estimate
	fmt.Printf("rho %.2f, 95%% interval %.2f to %.2f, by %s\n", rho.Value, rho.Lower, rho.Upper, result.Rho.Method)
	fmt.Println("k is missing:", result.K.Estimate.Missing)
	// Output:
	// rho 0.08, 95% interval 0.02 to 0.23, by adjusted profile likelihood
	// k is missing: counts are needed (one row a leaf), the data have one row a stop
}

// Red mites on 150 apple leaves (Bliss & Fisher 1953): 70 leaves with none, 38
// with one, and so on.
func ExampleFitK() {
	counts, err := fit.CountsOf(70, 38, 17, 10, 9, 3, 2, 1)
	if err != nil {
		fmt.Println(err)
		return
	}
	k, err := fit.FitK(counts, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("mean %.3f, k %.3f, 95%% interval %.2f to %.2f\n", k.Mean, k.ML.Value, k.ML.Lower, k.ML.Upper)
	fmt.Printf("fit: chi-square %.2f on %d degrees of freedom, P = %.2f\n", k.Fit.Statistic, k.Fit.DF, k.Fit.P)
	// Output:
	// mean 1.147, k 1.025, 95% interval 0.63 to 1.84
	// fit: chi-square 2.49 on 3 degrees of freedom, P = 0.48
}
