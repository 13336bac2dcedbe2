// Package routing holds the command route, which says where in a field to stop.
package routing

import (
	"context"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/laying"
	"stopwise/cmd/stopwise/internal/outfile"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

// routing holds the flags of route.
type routing struct {
	laying.Flags
	stage                    *shell.Option[string]
	speed                    *shell.Option[float64]
	gpx, geojson, plot, page *shell.Option[string]
}

func RouteCommand(e shell.Env) *cli.Command {
	r := &routing{
		stage:   shell.StageFlag(),
		Flags:   laying.NewFlags("field"),
		speed:   shell.NewOption("speed", "`NUMBER` metres walked in a minute", shell.Positive).WithDefault("60"),
		gpx:     shell.NewOption("gpx", "`FILE` write the stops for a satellite receiver or a phone (GPX 1.1); goes with --field", shell.NotEmpty),
		geojson: shell.NewOption("geojson", "`FILE` write boundary, stops and route for a map (GeoJSON); goes with --field", shell.NotEmpty),
		plot:    shell.PlotFlag("the field with its numbered stops"),
		page:    shell.NewOption("page", "`FILE.html` write picture and list as a page to print", shell.NotEmpty),
	}
	return shell.Question{
		Name:      "route",
		Usage:     "say where in a field to stop, and in which order",
		Arguments: "PLAN.json",
		Description: `Lays out the stops of one visit so that every beginning of the route on which a verdict can come is spread over the whole field, with little walking: a visit that ends early has then not seen one end of the field only. Stops keep off the edges and out of holes. The seed draws where a route starts, in a real field where the scout comes in, too: the same field and seed give the same stops; give every visit a seed of its own.

$ stopwise route plan.json --stage leafing --size 775x516
$ stopwise route plan.json --size 775x516 --seed 2 --plot stops.svg
$ stopwise route plan.json --field field.geojson --gpx stops.gpx --page stops.html`,
		Flags: []cli.Flag{r.Size, r.Field, r.stage, r.Seed, r.speed, r.gpx, r.geojson, r.plot, r.page},
		Answer: func(_ context.Context, c *cli.Context) (out report.Output, err error) {
			file, err := shell.Only(c, "plan")
			if err != nil {
				return out, err
			}
			if err := r.consistent(); err != nil {
				return out, err
			}
			plan, err := shell.ReadPlan(e, file)
			if err != nil {
				return out, err
			}
			stages, err := shell.ChosenStages(plan, r.stage)
			if err != nil {
				return out, err
			}
			stops, err := r.Lay(e, stages)
			if err != nil {
				return out, err
			}
			l := laid{stops, plan, r.Seed.Value, r.speed.Value}
			return l.output(r.written()), r.write(l)
		},
	}.Command(e)
}

// consistent refuses flags that say too little or too much.
func (r *routing) consistent() error {
	if err := shell.Exclusive(r.Size, r.Field); err != nil {
		return err
	}
	if !r.Given() {
		return shell.UsageHint("such as --size 775x516, or --field FILE.geojson", "route needs the field's size or its boundary")
	}
	for _, o := range []*shell.Option[string]{r.gpx, r.geojson} {
		if o.Set && !r.Field.Set {
			return shell.UsageError("--%s goes with --field: a size does not say where on the globe the field lies", o.Name)
		}
		if o.Set && filepath.Clean(o.Value) == filepath.Clean(r.Field.Value) {
			return shell.UsageError("--%s %s is the boundary's own file; give another name", o.Name, o.Value)
		}
	}
	return nil
}

// laid is a layout with what it is for.
type laid struct {
	*laying.Laid
	plan  *plans.Plan
	seed  uint64
	speed float64
}

// write writes the files that were asked for.
func (r *routing) write(l laid) error {
	for _, w := range []struct {
		o    *shell.Option[string]
		make func() ([]byte, error)
		mine func(old []byte) bool
	}{
		{r.gpx, l.gpx, isRoute}, {r.geojson, l.geojson, isRoute}, {r.page, l.page, outfile.IsPage},
	} {
		if !w.o.Set {
			continue
		}
		data, err := w.make()
		if err != nil {
			return err
		}
		if err := shell.WriteFile("--"+w.o.Name, w.o.Value, data, w.mine, "a route that stopwise laid out"); err != nil {
			return err
		}
	}
	if r.plot.Set {
		return shell.WritePicture(r.plot.Value, l.picture())
	}
	return nil
}

// written lists the files.
func (r *routing) written() []string {
	var files []string
	for _, o := range []*shell.Option[string]{r.gpx, r.geojson, r.plot, r.page} {
		if o.Set {
			files = append(files, o.Value)
		}
	}
	return files
}
