package size_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// reference is a file of values that were computed by other software: mpmath 1.2.1
// and scipy 1.10.1, exact integers and fractions where said.
type reference struct {
	DetectLots struct {
		Levels []float64
		Cases  []struct {
			Confidence float64
			Lot        int
			Infested   []int
			N          []*int
		}
	} `json:"detect_lots"`
	DetectIndependent struct {
		Levels []float64
		Cases  []struct {
			Confidence, Seen float64
			N                []int
		}
		Poisson []struct {
			Confidence float64
			N          []int
		}
	} `json:"detect_independent"`
	DetectTwoPercent struct {
		Cases []struct {
			Lot, Infested        int
			N95                  int     `json:"n_95"`
			TwoPercentN          int     `json:"two_percent_n"`
			TwoPercentConfidence float64 `json:"two_percent_confidence"`
		}
	} `json:"detect_two_percent"`
	DetectClumped struct {
		Confidence []float64
		Cases      []struct {
			P, Rho, Seen float64
			M            int
			NonePerStop  float64 `json:"p_none_per_stop"`
			Stops        []int
			Achieved     []float64
		}
	} `json:"detect_clumped"`
	Classify struct {
		Cases []struct {
			M                              int
			Rho, Lower, Upper, Alpha, Beta float64
			Stops                          int
			Choices                        []struct {
				C                int
				Needless, Missed float64
			}
			FeasibleFromOn int `json:"feasible_from_on"`
			SearchedTo     int `json:"searched_to"`
		}
	}
	FixedFourStops struct {
		PlantsPerStop int `json:"plants_per_stop"`
		Stops         int
		ActAt         int `json:"act_at"`
		Cases         []struct {
			P, Rho float64
			PAct   float64 `json:"p_act"`
		}
	} `json:"fixed_four_stops"`
	ExpectedHalfWidth struct {
		Cases []struct {
			Stops, M           int
			P, Rho, Confidence float64
			Expected           float64 `json:"expected_half_width"`
		}
	} `json:"expected_half_width"`
	SingleStage struct {
		Cases []struct {
			Lower, Upper, Alpha, Beta float64
			N                         int
			ActAt                     int     `json:"act_at"`
			AchievedAlpha             float64 `json:"achieved_alpha"`
			AchievedBeta              float64 `json:"achieved_beta"`
		}
	} `json:"single_stage"`
}

func readReference(t *testing.T) reference {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "ref", "samplesize.json"))
	if err != nil {
		t.Fatal(err)
	}
	var ref reference
	if err := json.Unmarshal(data, &ref); err != nil {
		t.Fatal(err)
	}
	return ref
}

// enough fails the test if a list of the reference is shorter than it should be.
func enough(t *testing.T, n, want int) {
	t.Helper()
	if n < want {
		t.Fatalf("%d reference cases, want at least %d", n, want)
	}
}

func near(got, want, tol float64) bool { return math.Abs(got-want) <= tol }
