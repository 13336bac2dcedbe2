package figure

import (
	"strings"
	"testing"
)

// The examples are invented.

func exampleTrade() Trade {
	return Trade{Title: "What schedules take and what they risk: invented", Note: "A line for each number of stops a visit.", Desc: "Two panels.", TimeLabel: "minutes a week",
		Panels: []TradePanel{
			{Head: "Treated needlessly", Percent: true, Allowed: &Mark{0.15, "promised 15%"},
				Lines: []Line{{"2 stops", []XY{{10, .7}, {16, .82}, {30, .95}}}, {"8 stops", []XY{{20, .1}, {34, .18}, {61, .3}}}}},
			{Head: "Days late", Lines: []Line{{"2 stops", []XY{{10, 2.4}, {16, 1.1}, {30, .4}}}, {"8 stops", []XY{{20, 2.9}, {34, 1.5}, {61, .6}}}}},
		}}
}

func exampleStrips() Strips {
	return Strips{Title: "Four fields through an invented season", Note: "Ring: nothing found. Disc: something. Square: treated.", Desc: "Two are treated.",
		Head: "Fields", DayLabel: "day", LastDay: 28, Marks: []Mark{{12.5, "threshold"}, {19, "upper bound"}},
		Fields: [][]StripVisit{
			{{Day: 0}, {Day: 7}, {Day: 14, Found: true}, {Day: 18, Found: true, Act: true}},
			{{Day: 3}, {Day: 10}, {Day: 17}, {Day: 24}},
			{{Day: 6, Found: true}, {Day: 10, Found: true, Act: true}},
			{},
		}}
}

func exampleFollowed() Followed {
	return Followed{Title: "A season of visits: invented", Note: "Exact.", Desc: "Treated by level, and when.",
		TreatedHead: "Treated in the season", LevelLabel: "share infested", Share: true,
		Treated: []Line{{"in the season", []XY{{0, 0}, {.05, .1}, {.1, .6}, {.2, .99}}}, {"in one visit", []XY{{0, 0}, {.05, .01}, {.1, .1}, {.2, .8}}}},
		Lower:   Mark{.08, "lower 8%"}, Threshold: Mark{.14, "threshold 14%"}, Upper: Mark{.22, "upper 22%"},
		TreatmentHead: "Treated on the day", TreatmentLabel: "day", Treatment: []float64{0, 0, .1, .3, .4, .2}, Crossings: []Mark{{2.2, "threshold"}, {3.6, "upper bound"}},
		VisitHead: "Visited on the day", VisitLabel: "day", Visit: []float64{.5, .5, .1, .5, .4, .1}}
}

// Each visit is drawn once, by what it was: rings, discs and squares; a field without a
// visit has its line all the same. Each schedule is a point in each panel, and what is
// promised a dashed line in the panel it is promised of.
func TestSeasonPicturesShowAll(t *testing.T) {
	parts := func(x pictured) string {
		p, err := x.Picture()
		if err != nil {
			t.Fatal(err)
		}
		svg, err := Render(p, SVG)
		if err != nil {
			t.Fatal(err)
		}
		return strings.Join(structure(t, svg), "\n")
	}
	all, one := parts(exampleStrips()), exampleStrips()
	one.Fields[2] = one.Fields[2][:1]
	if less := parts(one); strings.Count(all, "\npath ")-strings.Count(less, "\npath ") != 1 {
		t.Errorf("a treatment is %d elements", strings.Count(all, "\npath ")-strings.Count(less, "\npath "))
	}
	for _, want := range []string{"threshold", "upper bound", "Fields", "Four fields"} {
		if !strings.Contains(all, want) {
			t.Errorf("strips without %q", want)
		}
	}
	trade, bare := parts(exampleTrade()), exampleTrade()
	bare.Panels[0].Allowed = nil
	if strings.Count(trade, "promised 15%") != 1 || strings.Contains(parts(bare), "promised") {
		t.Error("what is promised is not shown once")
	}
	bare.Panels[1].Lines[1].Points = bare.Panels[1].Lines[1].Points[:2]
	if strings.Count(trade, "\npath ")-strings.Count(parts(bare), "\npath ") < 2 {
		t.Error("a schedule has no point of its own")
	}
}
