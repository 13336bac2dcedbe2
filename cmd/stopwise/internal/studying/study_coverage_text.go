package studying

import (
	"fmt"
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/sampling"
)

func (f *coverageFlags) document(d *report.Document, cases []coverageCase, shares []float64, rows []coverageRow, l *figure.Ladders) {
	d.Heading(fmt.Sprintf("How often a %s interval holds the true share", report.Share(f.confidence.Value)))
	d.Para("Visits of %s. Exact: the sum over all totals that a visit can bring.", say.StopsOf(f.stops.Value, f.plants.Value))
	if len(cases) > 1 {
		d.Para("Where plants of a stop are alike (rho %s), they are worth %s independent plants. An interval can ignore that, or count it in by taking that number for the plants seen.",
			report.Constant(cases[1].rho), report.Number(sampling.EffectiveSize([]int{f.plants.Value}, cases[1].rho)*float64(f.stops.Value), 3))
	}
	if l != nil && f.oneShare() {
		d.Para("%s", l.Note)
		d.Drawing(func(width int) string { return ladderText(*l, width) })
		question(d, "on which side of the truth do most of the misses lie, and why can counting clumping in not make the scouts see better?")
	}
	if f.at.Set {
		f.pointTables(d, cases, shares, rows)
	} else {
		f.pictures(d, cases, shares, rows)
		f.summary(d, cases, shares, rows)
	}
	f.coverageRemarks(d, cases, rows)
}

// chartFloor is where the pictures begin, as a share of what is promised.
const chartFloor = 0.7

func (f *coverageFlags) pictures(d *report.Document, cases []coverageCase, shares []float64, rows []coverageRow) {
	x := make([]float64, len(shares))
	for i, p := range shares {
		x[i] = 100 * p
	}
	promised := 100 * f.confidence.Value
	draw := func(title string, series ...report.Series) {
		d.Drawing(report.Chart{Title: title, XLabel: "true share of plants infested, %", YLabel: "coverage, %", X: x, Series: series,
			YMin: promised * chartFloor, YMax: 100}.In)
	}
	of := func(name, interval, key string, mark rune) report.Series {
		for _, r := range rows {
			if r.interval == interval && r.of.key == key {
				return r.series(name, mark, promised*chartFloor)
			}
		}
		return report.Series{}
	}
	level := report.Series{Name: "promised", Mark: '─', Y: make([]float64, len(x))}
	for i := range level.Y {
		level.Y[i] = promised
	}
	draw("Plants independent", of("wald", "wald", "independent", 'x'), of("wilson", "wilson", "independent", 'o'),
		of("clopper-pearson", "clopper-pearson", "independent", '+'), level)
	if len(cases) > 1 {
		draw(fmt.Sprintf("Plants of a stop alike, rho %s", report.Constant(cases[1].rho)), of("wilson, not counted in", "wilson", "ignored", 'x'),
			of("wilson, counted in", "wilson", "counted_in", 'o'), level)
	}
}

// series leaves out what lies below the picture.
func (r coverageRow) series(name string, mark rune, floor float64) report.Series {
	s := report.Series{Name: name, Mark: mark}
	for _, c := range r.at {
		y := 100 * c.Holds
		if y < floor {
			y = math.NaN()
		}
		s.Y = append(s.Y, y)
	}
	return s
}

// summary has a row for each kind of interval and a column for each case.
func (f *coverageFlags) summary(d *report.Document, cases []coverageCase, shares []float64, rows []coverageRow) {
	t := report.NewTable(fmt.Sprintf("Coverage, the mean over shares from %s to %s and in brackets the lowest; promised is %s. Width is the expected width in the last of the cases.",
		report.Share(shares[0]), report.Share(shares[len(shares)-1]), report.Share(f.confidence.Value)),
		"interval")
	for _, c := range cases {
		t.Head(">" + c.name)
	}
	t.Head(">width")
	f.eachInterval(rows, func(name string, in map[string]coverageRow) {
		cells, width := []string{name}, ""
		for _, c := range cases {
			r, ok := in[c.key]
			if !ok {
				cells = append(cells, "")
				continue
			}
			mean, w := r.mean()
			least, _ := r.lowest(shares)
			cells = append(cells, report.Percent(mean)+" ("+report.Percent(least)+")")
			width = report.Percent(w)
		}
		t.Add(append(cells, width)...)
	})
	d.Table(t)
}

func (f *coverageFlags) pointTables(d *report.Document, cases []coverageCase, shares []float64, rows []coverageRow) {
	for i, p := range shares {
		t := report.NewTable(fmt.Sprintf("At a true share of %s: coverage, and in brackets how often, in percent, the interval lies too low / too high.", report.Share(p)),
			"interval")
		for _, c := range cases {
			t.Head(">" + c.name)
		}
		f.eachInterval(rows, func(name string, in map[string]coverageRow) {
			cells := []string{name}
			for _, c := range cases {
				cell := ""
				if r, ok := in[c.key]; ok {
					v := r.at[i]
					cell = fmt.Sprintf("%s (%s / %s)", report.Percent(v.Holds), bare(v.TooLow), bare(v.TooHigh))
				}
				cells = append(cells, cell)
			}
			t.Add(cells...)
		})
		d.Table(t)
	}
}

// bare is a share in percent without the sign, for cells of three numbers.
func bare(share float64) string { return strings.TrimSuffix(report.Percent(share), "%") }

// eachInterval calls see for each kind of interval with its rows by case.
func (f *coverageFlags) eachInterval(rows []coverageRow, see func(name string, in map[string]coverageRow)) {
	var order []string
	by := map[string]map[string]coverageRow{}
	for _, r := range rows {
		if by[r.interval] == nil {
			by[r.interval] = map[string]coverageRow{}
			order = append(order, r.interval)
		}
		by[r.interval][r.of.key] = r
	}
	for _, name := range order {
		shown := name
		if first := by[name]["independent"]; first.teaching {
			shown += " (for teaching)"
		}
		see(shown, by[name])
	}
}

func (f *coverageFlags) coverageRemarks(d *report.Document, cases []coverageCase, rows []coverageRow) {
	between := false
	for _, r := range rows {
		between = between || r.interval == betweenStops
	}
	if between {
		d.Para("The interval between-stops goes by the differences between the stops alone (t on %d degrees of freedom) and needs no rho. Stops that all show the same give none; that counts as not held.", f.stops.Value-1)
	}
	if len(cases) > 1 {
		d.Para("The method matters less than counting the stops: an interval that takes plants of one stop for independent holds the truth far less often than it says. `stopwise study explain intervals` has the formulas.")
	}
}
