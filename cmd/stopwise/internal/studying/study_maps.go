package studying

import (
	"context"
	"fmt"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/validate"
)

// mapScouts is how many scouts walk through a map.
const mapScouts = 10

func studyMaps() shell.Question {
	share := shell.ShareUpTo("share", "`SHARE` share of plants infested in the field").WithDefault("15%")
	stops := shell.NewOption("stops", "`COUNT` stops of each scout, of 20 plants", shell.Whole(1, 20)).WithDefault("4")
	rho := shell.RhoFlag().WithDefault("0.1")
	seed, plot := shell.SeedFlag(), shell.PlotFlag("the fields, every plant a dot, with the scouts' stops")
	return shell.Question{
		Name:  "maps",
		Usage: "see two fields with the same share infested, plant by plant, and ten scouts in each",
		Description: `Makes two fields of 2,400 plants with the same share infested: in one plants are infested independently, in the other those of a place are alike. Ten scouts stop in each. Shown are the fields, plant by plant, and what each scout sees.

$ stopwise study maps --plot fields.svg
$ stopwise study maps --share 30% --rho 0.3 --seed 4`,
		Flags: []cli.Flag{share, stops, rho, seed, plot},
		Answer: func(context.Context, *cli.Context) (report.Output, error) {
			rhos, err := made{rho: rho}.both()
			if err != nil {
				return report.Output{}, err
			}
			var fields []*validate.Plot
			for _, r := range rhos {
				p, err := validate.MakePlot(share.Value, r, mapScouts, stops.Value, seed.Value)
				if err != nil {
					return report.Output{}, err
				}
				fields = append(fields, p)
			}
			m := mapsResult{fields, rhos, stops.Value, seed.Value}
			out := m.output()
			return out, shell.Draw(out.Doc, plot, m.plots().Picture)
		},
	}
}

type mapsResult struct {
	fields []*validate.Plot
	rhos   []float64
	stops  int
	seed   uint64
}

type mapsJSON struct {
	report.Envelope
	Stops int         `json:"stops"`
	Seed  uint64      `json:"seed"`
	Seen  []mapsScout `json:"scouts"`
}

type mapsScout struct {
	Rho   float64 `json:"rho"`
	Share float64 `json:"share"`
	Scout int     `json:"scout"`
	Seen  float64 `json:"seen"`
}

func (m mapsResult) output() report.Output {
	j := mapsJSON{Envelope: report.Envelope{Kind: "stopwise study maps", Version: 1}, Stops: m.stops, Seed: m.seed}
	t := report.NewTable(fmt.Sprintf("What ten scouts see, each at %d stops of 20 plants (simulated, seed %d).", m.stops, m.seed), ">scout")
	for i, p := range m.fields {
		t.Head(">" + alike(m.rhos[i]))
		for k, s := range p.Scouts {
			j.Seen = append(j.Seen, mapsScout{m.rhos[i], p.Share, k, s.Seen})
		}
	}
	for k := range mapScouts {
		cells := []string{fmt.Sprint(k)}
		for _, p := range m.fields {
			cells = append(cells, report.Percent(p.Scouts[k].Seen))
		}
		t.Add(cells...)
	}
	d := &report.Document{}
	d.Heading("The same share infested, plant by plant")
	for i, p := range m.fields {
		low, high := 1.0, 0.0
		for _, s := range p.Scouts {
			low, high = min(low, s.Seen), max(high, s.Seen)
		}
		d.Para("%s: %s of all plants are infested, and ten scouts see from %s to %s.", say.Capital(alike(m.rhos[i])), report.Percent(p.Share), report.Percent(low), report.Percent(high))
	}
	v := m.plots()
	d.Drawing(func(width int) string { return plantsText(v, width) })
	d.Para("Dark quarters of a character are infested plants; a digit in the corner of a place is the scout who stops there, the last where several do.")
	d.Table(t)
	question(d, "cover the headings. By which sign do you tell the clumped field, and which scout would you not want to be there?")
	return report.Output{Doc: d, Records: report.RecordsOf(j.Seen), JSON: j}
}

func (m mapsResult) plots() figure.Plots {
	v := figure.Plots{
		Title: "The same share infested, plant by plant",
		Note:  fmt.Sprintf("Every dot is a plant, the large dark ones infested. Frames are the stops of ten scouts, %d each, named 0 to 9 by scout; a place where several stop bears the last one's name. Simulated, seed %d.", m.stops, m.seed),
	}
	for i, p := range m.fields {
		f := figure.PlantField{Head: fmt.Sprintf("%s, %s infested", say.Capital(alike(m.rhos[i])), report.Percent(p.Share)),
			Along: p.Along, Across: p.Across, Wide: p.Wide, High: p.High, Infested: p.Infested}
		low, high := 1.0, 0.0
		for k, s := range p.Scouts {
			low, high = min(low, s.Seen), max(high, s.Seen)
			for _, at := range s.Places {
				f.Visits = append(f.Visits, figure.PlaceVisit{X: at[0], Y: at[1], Name: fmt.Sprint(k)})
			}
		}
		f.Head += fmt.Sprintf("; the scouts see %s to %s", report.Percent(low), report.Percent(high))
		v.Desc += f.Head + ". "
		v.Panels = append(v.Panels, f)
	}
	return v
}
