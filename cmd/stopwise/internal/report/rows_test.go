package report

import "testing"

type within struct {
	Stop int `json:"stop"`
}

func TestRecordsOf(t *testing.T) {
	type chance struct {
		Value float64  `json:"value" csv:"."`
		SE    *float64 `json:"standard_error"`
	}
	type kind string
	type row struct {
		Envelope
		Stage    kind           `json:"stage"`
		K        *float64       `json:"k,omitempty"`
		A        *float64       `json:"a,omitempty"`
		Missed   *chance        `json:"missed"`
		Needless chance         `json:"needless"`
		Keeps    *bool          `json:"keeps"`
		Interval *Interval      `json:"interval"`
		Means    []float64      `json:"means" csv:"-"`
		Setting  map[string]int `json:"setting" csv:"-"`
		Words    string         `json:"-" csv:"setting"`
		own      int
		within
	}
	k, kept := 0.8, false
	r := RecordsOf([]row{
		{Stage: "leafing", K: &k, Needless: chance{0.1, &k}, Keeps: &kept, Interval: &Interval{0.25, 0.5, 0.95}, Words: "a, b", own: 1, within: within{3}},
		{Stage: "podding", Missed: &chance{0.2, nil}, own: 2, within: within{4}},
	})
	r.AddOnly(map[string]any{"stop": 5, "stage": "lower bound"})
	got, err := r.encode()
	if err != nil {
		t.Fatal(err)
	}
	// No row has an a, which JSON then leaves out too.
	const want = `stage,k,missed,missed_standard_error,needless,needless_standard_error,keeps,interval_lower,interval_upper,setting,stop
leafing,0.8,,,0.1,0.8,false,0.25,0.5,"a, b",3
podding,,0.2,,0,,,,,,4
lower bound,,,,,,,,,,5
`
	if string(got) != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}
