package report

import "testing"

type within struct {
	Stop int `json:"stop"`
}

func TestRecordsOf(t *testing.T) {
	type row struct {
		Stage    string    `json:"stage"`
		K        *float64  `json:"k,omitempty"`
		Interval *Interval `json:"interval"`
		Means    []float64 `json:"means" csv:"-"`
		own      int
		within
	}
	k := 0.8
	got, err := RecordsOf([]row{{"leafing", &k, &Interval{0.25, 0.5, 0.95}, nil, 1, within{3}}, {"podding", nil, nil, nil, 2, within{4}}}).encode()
	if err != nil {
		t.Fatal(err)
	}
	const want = "stage,k,interval_lower,interval_upper,stop\nleafing,0.8,0.25,0.5,3\npodding,,,,4\n"
	if string(got) != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}
