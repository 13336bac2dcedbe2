package report

import "testing"

func TestRecordsOf(t *testing.T) {
	type row struct {
		Stage    string    `json:"stage"`
		K        *float64  `json:"k,omitempty"`
		Interval *Interval `json:"interval"`
		Means    []float64 `json:"means" csv:"-"`
		own      int
	}
	k := 0.8
	got, err := RecordsOf([]row{{"boot", &k, &Interval{0.25, 0.5, 0.95}, nil, 1}, {"tillering", nil, nil, nil, 2}}).encode()
	if err != nil {
		t.Fatal(err)
	}
	const want = "stage,k,interval_lower,interval_upper\nboot,0.8,0.25,0.5\ntillering,,,\n"
	if string(got) != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}
