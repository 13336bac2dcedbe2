package scouting

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/cmd/stopwise/internal/textsafe"
)

// now is the time at which something is typed.
func now() string { return clock().UTC().Format(time.RFC3339) }

// nameFlag takes a name: of a field, or of a scout.
func nameFlag(name, usage string) *shell.Option[string] {
	return shell.NewOption(name, usage, textsafe.Name)
}

func scoutFlag() *shell.Option[string] {
	return nameFlag("scout", "`NAME` who answers, to be recorded")
}

type amendJSON struct {
	report.Envelope
	Changed int           `json:"changed"`
	Visits  []listedVisit `json:"visits"`
}

// amend runs work on the visits of a field that are named, and tells what came of
// them.
func amend(c *cli.Context, visit *shell.Option[string], kind string, work func(f *season.File, vs []*season.Visit) (said string, changed int, err error)) (report.Output, error) {
	if c.NArg() != 2 {
		return report.Output{}, shell.UsageHint("see stopwise season "+c.Command.Name+" --help", "season %s takes a season file and a field, not %d arguments", c.Command.Name, c.NArg())
	}
	file, field := c.Args().Get(0), c.Args().Get(1)
	f, err := openSeason(file, false)
	if err != nil {
		return report.Output{}, err
	}
	defer f.Close()
	vs, err := f.FullVisits(season.Filter{Field: field})
	if err != nil {
		return report.Output{}, seasonError(file, err)
	}
	if len(vs) == 0 {
		near, err := f.Near(field)
		if err != nil {
			return report.Output{}, seasonError(file, err)
		}
		if len(near) > 0 {
			return report.Output{}, shell.UsageHint("did you mean "+shell.Either(near)+"?", "%s has no visit of field %s", file, field)
		}
		return report.Output{}, shell.UsageHint("see stopwise season list "+file, "%s has no visit of field %s", file, field)
	}
	if visit.Set {
		v, err := visitNamed(vs, visit.Value)
		if err != nil {
			return report.Output{}, err
		}
		vs = []*season.Visit{v}
	}
	said, changed, err := work(f, vs)
	if err != nil {
		return report.Output{}, seasonError(file, err)
	}
	out := amendJSON{Envelope: report.Envelope{Kind: kind, Version: 1}, Changed: changed, Visits: []listedVisit{}}
	for _, v := range vs {
		j, _, err := newListedVisit(f, v)
		if err != nil {
			return report.Output{}, err
		}
		out.Visits = append(out.Visits, j)
	}
	d := &report.Document{}
	d.Para("%s", said)
	return report.Output{Doc: d, JSON: out}, nil
}

// visitNamed returns the visit with a number, from 1 by date, or with an id or
// the beginning of one.
func visitNamed(vs []*season.Visit, name string) (*season.Visit, error) {
	if n, err := strconv.Atoi(name); err == nil && n >= 1 && n <= len(vs) {
		return vs[n-1], nil
	}
	found := slices.DeleteFunc(slices.Clone(vs), func(v *season.Visit) bool { return !strings.HasPrefix(v.ID, name) })
	if len(found) == 1 {
		return found[0], nil
	}
	var have []string
	for i, v := range vs {
		have = append(have, strconv.Itoa(i+1)+" ("+v.Date+", "+season.Short(v.ID)+")")
	}
	return nil, shell.UsageError("--visit %s: names no visit of the field, or several; accepted: %s", name, shell.Either(have))
}

func amendFlags() (visit, reason *shell.Option[string]) {
	return shell.TextFlag("visit", "`N` number of the visit among those of the field, from 1 by date, or its id"),
		shell.TextFlag("reason", "`TEXT` why, to be recorded")
}

func seasonVoid() shell.Question {
	visit, reason := amendFlags()
	scout := scoutFlag()
	back := &cli.BoolFlag{Name: "take-back", Usage: "let a void visit count again"}
	return shell.Question{
		Name: "void", Usage: "let a visit count for nothing", Arguments: "FILE FIELD",
		Description: `Records that a visit counts for nothing, one of the wrong field for example. Nothing is deleted: season show has it with all its answers and the reason. A field's verdict is then that of the visit before.

$ stopwise season void 2026.season "Long Meadow" --visit 2 --reason "it was the field beside it"`,
		Flags: []cli.Flag{visit, reason, back, scout}, Format: withoutRows(),
		Answer: func(_ context.Context, c *cli.Context) (out report.Output, err error) {
			if err := shell.Required(visit, reason); err != nil {
				return out, err
			}
			return amend(c, visit, "stopwise season void", func(f *season.File, vs []*season.Visit) (string, int, error) {
				v := vs[0]
				do, said, same := f.Void, "counts for nothing now", "is void already"
				if c.Bool("take-back") {
					do, said, same = f.Unvoid, "counts again", "is not void"
				}
				done, err := do(v, reason.Value, now(), scout.Value)
				if !done {
					return "The visit of field " + v.Field + " on " + v.Date + " " + same + ": nothing was recorded.", 0, err
				}
				return "Recorded: the visit of field " + v.Field + " on " + v.Date + " " + said + ". Its answers are kept.", 1, err
			})
		},
	}
}

func seasonRename() shell.Question {
	visit, reason := amendFlags()
	scout, to := scoutFlag(), nameFlag("to", "`NAME` the field's right name")
	return shell.Question{
		Name: "rename", Usage: "say that visits were of another field", Arguments: "FILE FIELD",
		Description: `Records the right name of a field for its visits, or for one of them. The old name stays in the file beside it. Verdicts and next visits stay as the scout was told them.

$ stopwise season rename 2026.season "Lnog Meadow" --to "Long Meadow" --reason "mistyped"`,
		Flags: []cli.Flag{to, visit, reason, scout}, Format: withoutRows(),
		Answer: func(_ context.Context, c *cli.Context) (out report.Output, err error) {
			if err := shell.Required(to, reason); err != nil {
				return out, err
			}
			return amend(c, visit, "stopwise season rename", func(f *season.File, vs []*season.Visit) (string, int, error) {
				was := vs[0].Field
				if err := f.Rename(vs, to.Value, reason.Value, now(), scout.Value); err != nil {
					return "", 0, err
				}
				return "Recorded: " + report.Count(len(vs), "visit", "visits") + " of field " + was + " now stand under " + to.Value + ".", len(vs), nil
			})
		},
	}
}

func seasonExpect(e shell.Env) shell.Question {
	return shell.Question{
		Name: "expect", Usage: "name the fields that are to be visited this season", Arguments: "FILE FIELDS.csv",
		Description: `Reads a list of fields, CSV with a column field, into a season file, which is made if there is none. season due then names those that were never visited too.

$ stopwise season expect 2026.season fields.csv`,
		Format: withoutRows(),
		Answer: func(_ context.Context, c *cli.Context) (out report.Output, err error) {
			if c.NArg() != 2 {
				return out, shell.UsageHint("see stopwise season expect --help", "season expect takes a season file and a list of fields, not %d arguments", c.NArg())
			}
			file, list := c.Args().Get(0), c.Args().Get(1)
			r, err := shell.OpenInput(e, list)
			if err != nil {
				return out, err
			}
			defer r.Close()
			fields, err := season.ReadFields(r)
			if err != nil {
				return out, shell.InputError(list, err)
			}
			f, err := openSeason(file, true)
			if err != nil {
				return out, err
			}
			defer f.Close()
			added, err := f.Expect(fields)
			if err != nil {
				return out, seasonError(file, err)
			}
			d := &report.Document{}
			d.Para("%s: %s, %d of them new.", list, report.Count(len(fields), "field", "fields"), added)
			return report.Output{Doc: d, JSON: struct {
				report.Envelope
				Fields int `json:"fields"`
				Added  int `json:"added"`
			}{report.Envelope{Kind: "stopwise season expect", Version: 1}, len(fields), added}}, nil
		},
	}
}
