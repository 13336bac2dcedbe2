package fitting

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"stopwise/sampling/fit"
	"stopwise/sampling/pilot"
)

func fitted(t *testing.T, text string) *fit.Result {
	t.Helper()
	d, err := pilot.Read(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	r, err := fit.Fit(d, fit.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// stopRows writes one row a stop: a line of infested plants for each field.
func stopRows(plants int, fields ...[]int) string {
	var b strings.Builder
	b.WriteString("field,stop,plants,infested\n")
	for i, f := range fields {
		for j, x := range f {
			fmt.Fprintf(&b, "Field %c,%d,%d,%d\n", 'A'+i, j+1, plants, x)
		}
	}
	return b.String()
}

// leafRows writes one row a leaf, two plants of one leaf a stop.
func leafRows(fields ...[]int) string {
	var b strings.Builder
	b.WriteString("field,stop,plant,leaf,count\n")
	for i, f := range fields {
		for j, x := range f {
			fmt.Fprintf(&b, "Field %c,%d,%d,1,%d\n", 'A'+i, j/2+1, j%2+1, x)
		}
	}
	return b.String()
}

// The numbers in the warnings (upper end .01413, likelihood ratio 72.153) were
// found with scipy 1.10.1, by searching the likelihood in its product form.
func TestWarnings(t *testing.T) {
	spread := []int{0, 1, 5, 9, 2, 12, 0, 7}
	tests := []struct {
		name, text string
		want       []warning
	}{
		{"nothing infested", stopRows(20, []int{0, 0}, []int{0, 0}), []warning{
			{"data", "no plant was infested in any field: the data cannot show how the pest is spread; take counts where it is present"}}},
		{"one stop a field", stopRows(20, []int{3}, []int{9}, []int{0}, []int{4}), []warning{
			{"data", "4 fields have one stop and say nothing of rho: Field A, Field B, Field C and 1 more; look at several stops in each field"}}},
		{"one field with one stop", stopRows(20, spread, spread, spread, spread, spread, []int{4}), []warning{
			{"data", "1 field has one stop and says nothing of rho: Field F; look at several stops in each field"}}},
		{"few fields", stopRows(20, spread, spread), []warning{
			{"rho", "rho is fitted to 2 fields; fewer than 5 show little of how fields differ"}}},
		{"a short binary power law", stopRows(20, spread, []int{1, 0, 2, 0}, []int{9, 12, 19, 4}), []warning{
			{"rho", "rho is fitted to 3 fields; fewer than 5 show little of how fields differ"},
			{"binary", "the binary power law is fitted to 3 fields; 5 or more are needed for a slope worth having"}}},
		{"fields that say nothing", stopRows(20, spread, spread, spread, spread, spread, []int{0, 0}, []int{20, 20}), []warning{
			{"data", "1 field has no infested plant and says nothing of rho"},
			{"data", "in 1 field every plant is infested, which says nothing of rho"}}},
		{"no clumping", stopRows(20, []int{5, 5, 5, 5}, []int{4, 5, 4, 4}, []int{9, 9, 8, 9}, []int{2, 2, 2, 2}, []int{7, 7, 7, 7}), []warning{
			{"rho", "no clumping found: stops differ no more than independent plants would make them; plan with the upper end of the interval, 0.014"}}},
		{"all or none", stopRows(20, []int{0, 20, 20, 0}), []warning{
			{"rho", "rho is fitted to 1 field; fewer than 5 show little of how fields differ"},
			{"rho", "at each stop all plants or none were infested, so that rho has no upper limit below 1"}}},
		{"fields that differ in rho", stopRows(20, []int{5, 5, 5, 5, 5, 5}, []int{0, 20, 0, 20, 19, 1}, []int{5, 6, 5, 4, 5, 5}, []int{8, 8, 9, 7, 8, 8}, []int{3, 2, 2, 3, 2, 2}), []warning{
			{"rho", "rho differs from field to field (likelihood ratio 72.2 on 4 degrees of freedom, P <0.0001): one value for all is a compromise, and its interval is too narrow"},
			{"binary", "the binary power law is fitted to 4 fields; 5 or more are needed for a slope worth having"}}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if d := cmp.Diff(test.want, warningsOf(fitted(t, test.text))); d != "" {
				t.Error(d)
			}
		})
	}
}

func about(r *fit.Result, what string) string {
	var out []string
	for _, w := range warningsOf(r) {
		if w.About == what {
			out = append(out, w.Text)
		}
	}
	return strings.Join(out, "; ")
}

func TestCountWarnings(t *testing.T) {
	even := []int{3, 2, 3, 4, 3, 3, 2, 3}
	r := fitted(t, leafRows(even, even, even, even, even))
	if got, want := about(r, "k"), "no clumping found: the variance of the counts is not above their mean, so that k has no value; the Poisson distribution fits as well"; got != want {
		t.Error(got)
	}
	wild := []int{0, 0, 40, 22, 0, 1, 9, 14}
	r = fitted(t, leafRows(wild, even, []int{0, 0, 0, 0, 1, 0, 0, 0}))
	for _, want := range []string{
		"k is fitted to 3 fields; fewer than 5 show little of how fields differ",
		"with about 8 leaves a field k comes out too large by some 12%, and its interval is too narrow; count 40 or more leaves in each field",
		"k differs from field to field (likelihood ratio",
	} {
		if !strings.Contains(about(r, "k"), want) {
			t.Errorf("%q is not in %q", want, about(r, "k"))
		}
	}
	if got, want := about(r, "taylor"), "Taylor's law is fitted to 3 fields; 5 or more are needed for a slope worth having"; !strings.HasPrefix(got, want) {
		t.Error(got)
	}
	if got, want := about(r, "iwao"), "Iwao's line is fitted to 3 fields; 5 or more are needed for a slope worth having"; !strings.HasPrefix(got, want) {
		t.Error(got)
	}
	if got, want := about(r, "tally"), "at tally number 1, 1 field is left out: no plant infested there, or every plant"; got != want {
		t.Error(got)
	}
	clumpy := []int{30, 28, 0, 1, 12, 15, 0, 0, 33, 25, 2, 1}
	r = fitted(t, leafRows(clumpy, clumpy, clumpy, clumpy, clumpy))
	if got := about(r, "k"); !strings.Contains(got, "the counts of one stop are alike (count rho 0.94") {
		t.Error(got)
	}
}

// Sparse fields are told what rho is by, and which way it errs.
func TestSparseWarnings(t *testing.T) {
	sparse := []int{0, 0, 2, 0, 1, 0}
	many := about(fitted(t, stopRows(10, sparse, sparse, sparse, sparse, sparse, sparse, sparse, sparse)), "rho")
	for _, want := range []string{"by the likelihood over fields", "errs to the low side"} {
		if !strings.Contains(many, want) {
			t.Errorf("%q is not in %q", want, many)
		}
	}
	if few := about(fitted(t, stopRows(10, sparse, sparse, sparse)), "rho"); !strings.Contains(few, "twice too large") {
		t.Error(few)
	}
}
