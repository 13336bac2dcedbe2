package figure

import (
	"math"
	"testing"
)

// The examples are invented.

func exampleCurves() Curves {
	curve := func(steep, most float64) []CurvePoint {
		var out []CurvePoint
		for i := range 61 {
			p := float64(i) / 120
			out = append(out, CurvePoint{p, 1 / (1 + math.Exp(steep*(p-0.17))), 4 + most*math.Exp(-200*(p-0.17)*(p-0.17))})
		}
		return out
	}
	return Curves{
		Title: "How often a visit ends with leave: an invented plan", Note: "High is leave, low is act. Grey areas: what the promise rules out.",
		Desc:  "The plan keeps its promise.",
		Share: true, LevelLabel: "true share of plants infested", LeaveHead: "Chance of leave", StopsHead: "Expected stops",
		Lower: Mark{0.1, "lower bound 10%"}, Threshold: Mark{0.17, "threshold 17%"}, Upper: Mark{0.25, "upper bound 25%"},
		NeedlessRisk: 0.1, MissedRisk: 0.05, NeedlessText: "ruled out: act needlessly in more than 10%", MissedText: "ruled out: leave in more than 5%",
		Curves:   []Curve{{"rho 0.15", curve(34, 3)}, {"rho 0.05", curve(60, 5)}},
		Textbook: []CurvePoint{{0.1, 0.9, 3}, {0.17, 0.5, 5}, {0.25, 0.05, 3}}, TextbookName: "textbook",
	}
}

func exampleStaircases() Staircases {
	return Staircases{Title: "Decision table: an invented plan", Note: "On or below the lower stairs: leave. On or above the upper stairs: act.", Desc: "Last stop 8.",
		Stages: []Staircase{{Head: "Total of infested plants, stage leafing: 14 after stop 4, walk on", StopLabel: "stop (20 plants each)",
			Leave: []int{-1, 0, 2, 5, 8, 12, 15, 20}, Act: []int{-1, -1, 17, 20, 22, 24, 25, 21}, Walk: []int{3, 9, 10, 14}}}}
}

func exampleFitted() Fitted {
	return Fitted{Title: "Clumping in invented fields", Note: "Each ring is a field.", SpreadHead: "Variance", SpreadLabel: "mean per leaf",
		Spread: []XY{{1.6, 6.2}, {3.1, 21}, {8.2, 137}, {17, 290}, {56, 2600}},
		Laws: []Law{{"Taylor: 3.1 mean^1.7", func(m float64) float64 { return 3.1 * math.Pow(m, 1.7) }, 1.6, 56},
			{"Iwao: A 7.8, B 1.7", func(m float64) float64 { return 8.8*m + 0.7*m*m }, 1.6, 56},
			{"no clumping", func(m float64) float64 { return m }, 1.6, 56}},
		CountHead: "Leaves", CountLabel: "insects on a leaf", SeenName: "seen", FittedName: "fitted", OtherName: "patches",
		Counts: []CountClass{{"0", 30, 22, 27}, {"1-2", 20, 25, 16}, {"3-5", 12, 14, 18}, {"6+", 5, 6, 4}}}
}

func exampleField() Field {
	return Field{Title: "Pest in a spot", Length: 400, Width: 200, Along: 8, Across: 4,
		Level: func(i, j int) float64 { return math.Exp(-float64((i-3)*(i-3)+(j-1)*(j-1))) / 2 },
		Gate:  Point{0, 0}, Route: []Point{{0, 0}, {200, 150}, {380, 40}}, Stops: []Stop{{Point{200, 150}, "3"}, {Point{380, 40}, "0"}}}
}

func exampleCrowd() Crowd {
	c := Crowd{Title: "Walks through an invented plan", Note: "The larger a sign, the more walks.", Desc: "Half end by stop 3.", Stairs: exampleStaircases().Stages[0]}
	c.Stairs.Walk = nil
	c.Places = []CrowdPlace{{1, 3, 0.6, GoesOn}, {1, 5, 0.4, GoesOn}, {2, 0, 0.2, EndsLeave}, {3, 17, 0.3, EndsAct}, {3, 9, 0.5, GoesOn}}
	return c
}

func exampleLadders() Ladders {
	return Ladders{Title: "Invented intervals", Note: "Thick lines with a cross miss the truth.", LevelLabel: "share", Truth: 0.15, TruthName: "the truth, 15%",
		Panels: []Ladder{{"ignored", []Rung{{0.01, 0.05, 0.1}, {0.08, 0.15, 0.25}, {0.2, 0.3, 0.4}}}, {"counted in", []Rung{{0, 0.05, 0.2}, {0.05, 0.15, 0.3}}}}}
}

func examplePlots() Plots {
	f := PlantField{Head: "an invented field", Along: 3, Across: 2, Wide: 4, High: 2, Infested: func(x, y int) bool { return (x+y)%5 == 0 },
		Visits: []PlaceVisit{{0, 0, "0"}, {2, 1, "1"}}}
	return Plots{Title: "Plants", Note: "Every dot is a plant.", Panels: []PlantField{f, f}}
}

func exampleOverlay() Overlay {
	return Overlay{Title: "Tables over each other", Note: "Told apart by dashes.", Head: "Total", StopLabel: "stop",
		Tables: []OverlaidTable{{"rho 0", []int{-1, 4, 9}, []int{-1, 8, 10}}, {"rho 0.2", []int{-1, 2, 6, 12}, []int{-1, 11, 13, 13}}}}
}

func exampleChances() Chances {
	return Chances{Title: "Looks", Note: "Exact.", Head: "Chance", StopLabel: "stop",
		Lines: []Line{{"any look so far", []XY{{4, 0.2}, {5, 0.3}, {6, 0.4}}}, {"this look", []XY{{4, 0.2}, {5, 0.19}, {6, 0.21}}}}}
}

func exampleSampled() Sampled {
	return Sampled{Title: "Fields", Note: "Large signs are wrong.", Head: "seen", LevelLabel: "true", Share: true, Lower: Mark{0.1, "lower bound 10%"}, Upper: Mark{0.25, "upper bound 25%"},
		Fields: []SampledField{{0.05, 0.02, false, false}, {0.08, 0.3, true, true}, {0.2, 0.25, true, false}, {0.3, 0.05, false, true}}}
}

type pictured interface{ Picture() (Picture, error) }

func examples(t *testing.T) map[string]Picture {
	t.Helper()
	out := map[string]Picture{"field": exampleField()}
	small := exampleStaircases()
	small.Title, small.Note, small.Columns = "", "", 3
	small.Stages = append(small.Stages, small.Stages[0], Staircase{Head: "two stops", StopLabel: "stop", Leave: []int{-1, 5}, Act: []int{-1, 6}})
	for name, x := range map[string]pictured{"curves": exampleCurves(), "staircase": exampleStaircases(), "staircases": small, "fit": exampleFitted(),
		"crowd": exampleCrowd(), "ladders": exampleLadders(), "plants": examplePlots(), "overlay": exampleOverlay(), "chances": exampleChances(), "sampled": exampleSampled(),
		"trade": exampleTrade(), "strips": exampleStrips(), "followed": exampleFollowed()} {
		p, err := x.Picture()
		if err != nil {
			t.Fatal(err)
		}
		out[name] = p
	}
	return out
}
