package main

import (
	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/designing"
	"stopwise/cmd/stopwise/internal/fitting"
	"stopwise/cmd/stopwise/internal/following"
	"stopwise/cmd/stopwise/internal/handouts"
	"stopwise/cmd/stopwise/internal/routing"
	"stopwise/cmd/stopwise/internal/scouting"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/cmd/stopwise/internal/sizing"
	"stopwise/cmd/stopwise/internal/studying"
	"stopwise/cmd/stopwise/internal/trying"
)

// A named command is built when it is asked for: their flags and helps are many.
type named struct {
	name  string
	build func(shell.Env) *cli.Command
}

// table lists the commands in the order in which help lists them.
var table = []named{
	{"demo", demoCommand},
	{"fit", fitting.FitCommand},
	{"size", sizing.SizeCommand},
	{"design", func(e shell.Env) *cli.Command {
		return designing.DesignCommand(e, designing.Evidence{
			Fit: fitting.Evidence, Recorded: fitting.SeasonEvidence, Validated: trying.Evidence, OverSeason: following.Evidence,
		})
	}},
	{"table", designing.TableCommand},
	{"curve", designing.CurveCommand},
	{"follow", following.FollowCommand},
	{"route", routing.RouteCommand},
	{"bulletin", handouts.BulletinCommand},
	{"check", scouting.CheckCommand},
	{"card", handouts.CardCommand},
	{"walk", scouting.WalkCommand},
	{"words", handouts.WordsCommand},
	{"season", scouting.SeasonCommand},
	{"validate", trying.ValidateCommand},
	{"tally", fitting.TallyCommand},
	{"study", studying.StudyCommand},
	{"completion", shell.CompletionCommand},
	{complete, shell.CompleteCommand},
}

// complete reads the flags of all other commands.
const complete = "__complete"

// commands returns all commands. They are built anew for each run, because flags
// keep what they were set to.
func commands(e shell.Env) []*cli.Command {
	list := make([]*cli.Command, len(table))
	for i, c := range table {
		list[i] = c.build(e)
	}
	return list
}

// asked returns the commands that a call needs: the one that it names, or all.
func asked(args []string) func(shell.Env) []*cli.Command {
	for _, c := range table {
		if len(args) > 1 && args[1] == c.name && c.name != complete {
			return func(e shell.Env) []*cli.Command { return []*cli.Command{c.build(e)} }
		}
	}
	return commands
}
