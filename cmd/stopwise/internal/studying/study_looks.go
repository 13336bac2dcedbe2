package studying

import (
	"context"
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/validate"
)

func studyLooks() shell.Question {
	share := shell.ShareUpTo("share", "`SHARE` true share of plants infested, and the threshold that the band is drawn around").WithDefault("22%")
	plants, rho := shell.PlantsPerStopFlag().WithDefault("20"), shell.RhoFlag().WithDefault("0.1")
	first, last := shell.MinStopsFlag().WithDefault("4"), shell.MaxStopsFlag().WithDefault("20")
	first.Usage, last.Usage = "`COUNT` the first stop after which one looks", "`COUNT` the last stop after which one looks"
	outside := shell.ShareUpTo("outside", "`CHANCE` chance on each side of the band that it is drawn for in one look").WithDefault("10%")
	plot := shell.PlotFlag("the chance to be outside the band by one look and by all so far")
	return shell.Question{
		Name:  "looks",
		Usage: "see what repeated looks do: a band kept in one look is left in many",
		Description: `In a field exactly at the threshold a running total should stay in a band around what is expected. One look leaves it as often as the band says; a look after every stop leaves it far more often, and a rule that ends there errs more often than it says. Every number is exact.

$ stopwise study looks
$ stopwise study looks --outside 2.5% --max-stops 40 --plot looks.svg`,
		Flags: []cli.Flag{share, plants, rho, first, last, outside, plot},
		Answer: func(context.Context, *cli.Context) (report.Output, error) {
			r, err := shell.Single(rho)
			if err != nil {
				return report.Output{}, err
			}
			if last.Value < first.Value {
				return report.Output{}, shell.UsageError("--min-stops %d must not be above --max-stops %d", first.Value, last.Value)
			}
			looks, err := validate.Looks(share.Value, r, plants.Value, first.Value, last.Value, outside.Value)
			if err != nil {
				return report.Output{}, shell.UsageError("%w", err)
			}
			l := looksResult{looks, share.Value, r, outside.Value, plants.Value}
			out := l.output()
			return out, shell.Draw(out.Doc, plot, l.picture)
		},
	}
}

type looksResult struct {
	looks               []validate.Look
	share, rho, outside float64
	plants              int
}

type looksJSON struct {
	report.Envelope
	Share   float64         `json:"share"`
	Rho     float64         `json:"rho"`
	Plants  int             `json:"plants_per_stop"`
	Outside float64         `json:"outside_each_side"`
	Looks   []validate.Look `json:"looks"`
}

func (l looksResult) output() report.Output {
	j := looksJSON{report.Envelope{Kind: "stopwise study looks", Version: 1}, l.share, l.rho, l.plants, l.outside, l.looks}
	t := report.NewTable("Chance that the running total is outside the band, exact.", ">after stop", ">in this look", ">in any look so far")
	for _, x := range l.looks {
		t.Add(fmt.Sprint(x.Stop), report.Percent(x.Alone), report.Percent(x.ByNow))
	}
	d := &report.Document{}
	d.Heading("One look, and a look after every stop")
	d.Para("%s", l.lesson())
	d.Drawing(l.chart().In)
	d.Table(t)
	question(d, "a scout looks after every stop and treats as soon as the band is left upwards. Why is %s not the chance of a needless treatment that this scout has?", report.Share(l.outside))
	return report.Output{Doc: d, Records: report.RecordsOf(j.Looks), JSON: j}
}

func (l looksResult) lesson() string {
	first, last := l.looks[0], l.looks[len(l.looks)-1]
	return fmt.Sprintf("In a field at %s (rho %s) one look after stop %d leaves the band in %s of visits; who looks after every stop from %d to %d leaves it in %s. The band is drawn for %s on each side in one look, by the normal distribution. A rule that ends wherever the band is left needs wider numbers: those of a decision table are made for all looks together.",
		report.Share(l.share), report.Constant(l.rho), last.Stop, report.Percent(last.Alone), first.Stop, last.Stop, report.Percent(last.ByNow), report.Share(l.outside))
}

// The names of the two lines.
const (
	thisLook = "in this look alone"
	anyLook  = "in any look so far"
)

// chart is the picture in characters.
func (l looksResult) chart() report.Chart {
	c := report.Chart{Title: "Chance that the running total is outside the band", XLabel: "after stop", YLabel: "%",
		Series: []report.Series{{Name: anyLook, Mark: 'x'}, {Name: thisLook, Mark: 'o'}}}
	for _, x := range l.looks {
		c.X = append(c.X, float64(x.Stop))
		c.Series[0].Y, c.Series[1].Y = append(c.Series[0].Y, 100*x.ByNow), append(c.Series[1].Y, 100*x.Alone)
	}
	c.YMax = 10 * math.Ceil(10*l.looks[len(l.looks)-1].ByNow)
	return c
}

func (l looksResult) picture() (figure.Picture, error) {
	one, all := figure.Line{Name: thisLook}, figure.Line{Name: anyLook}
	for _, x := range l.looks {
		one.Points = append(one.Points, figure.XY{X: float64(x.Stop), Y: x.Alone})
		all.Points = append(all.Points, figure.XY{X: float64(x.Stop), Y: x.ByNow})
	}
	return figure.Chances{
		Title: "One look, and a look after every stop", Head: "Chance that the running total is outside the band",
		StopLabel: fmt.Sprintf("stop (%s each)", report.Count(l.plants, "plant", "plants")), Lines: []figure.Line{all, one},
		Note: l.lesson(),
	}.Picture()
}
