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

// commands returns the commands in the order in which help lists them. They are
// built anew for each run, because flags keep what they were set to.
func commands(e shell.Env) []*cli.Command {
	return []*cli.Command{
		demoCommand(e),
		fitting.FitCommand(e),
		sizing.SizeCommand(e),
		designing.DesignCommand(e, designing.Evidence{
			Fit: fitting.Evidence, Recorded: fitting.SeasonEvidence, Validated: trying.Evidence, OverSeason: following.Evidence,
		}),
		designing.TableCommand(e),
		designing.CurveCommand(e),
		following.FollowCommand(e),
		routing.RouteCommand(e),
		handouts.BulletinCommand(e),
		scouting.CheckCommand(e),
		handouts.CardCommand(e),
		scouting.WalkCommand(e),
		handouts.WordsCommand(e),
		scouting.SeasonCommand(e),
		trying.ValidateCommand(e),
		fitting.TallyCommand(e),
		studying.StudyCommand(e),
		shell.CompletionCommand(e),
		shell.CompleteCommand(e),
	}
}
