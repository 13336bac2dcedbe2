// Package shell is what the commands share of the command line: flags, messages
// and exit statuses, files, help, completion and progress. It words no results.
package shell

import (
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"strings"

	"github.com/urfave/cli/v2"
)

// Version is the program's version; plans carry it.
const Version = "0.1.0"

// Env is what a command reads from and writes to. Errors are returned, not
// written to Err: that is for progress and remarks.
type Env struct {
	In  io.Reader
	Out io.Writer
	Err io.Writer
}

func Run(list func(Env) []*cli.Command, args []string, in io.Reader, out, errOut io.Writer) (status int) {
	defer func() {
		if r := recover(); r != nil {
			status = StatusFailed
			printMessage(errOut, fmt.Sprintf("internal error: %v", r))
		}
	}()
	kept := &output{w: out}
	app := NewApp(list, Env{in, kept, errOut})
	err := app.Run(Permute(app, args))
	if kept.err != nil && (err == nil || errors.Is(err, kept.err)) {
		if isClosedPipe(kept.err) {
			return StatusDone // the reader has seen enough, as with "| head"
		}
		err = Failure("cannot write the output: %w", Bare(kept.err))
	}
	printError(errOut, err)
	return statusOf(err)
}

func NewApp(list func(Env) []*cli.Command, e Env) *cli.App {
	build, _ := debug.ReadBuildInfo()
	app := &cli.App{
		Name:                  "stopwise",
		Usage:                 "design sampling plans for scouting crop fields, and walk them",
		Version:               VersionText(build),
		Reader:                e.In,
		Writer:                e.Out,
		ErrWriter:             e.Err,
		Commands:              list(e),
		HideHelpCommand:       true, // permute turns "help X" into "X --help"
		CustomAppHelpTemplate: appHelp,
		OnUsageError:          onUsageError,
		ExitErrHandler:        func(*cli.Context, error) {}, // the usual one ends the process
		Action: func(c *cli.Context) error {
			if c.Args().Present() {
				return unknownCommand(c, "")
			}
			return cli.ShowAppHelp(c)
		},
	}
	prepare(app.Commands, "")
	return app
}

// prepare gives commands what all of them share. parent is the name of the
// command that they belong to.
func prepare(list []*cli.Command, parent string) {
	for _, c := range list {
		path := strings.TrimSpace(parent + " " + c.Name)
		c.HideHelpCommand = true
		c.OnUsageError = onUsageError
		c.CustomHelpTemplate = commandHelp
		if len(c.Subcommands) == 0 {
			continue
		}
		prepare(c.Subcommands, path)
		if c.Action == nil {
			c.Action = func(ctx *cli.Context) error {
				if ctx.Args().Present() {
					return unknownCommand(ctx, path)
				}
				return UsageError("%s needs one of %s", path, Either(commandNames(ctx.Command.Subcommands)))
			}
		}
	}
}

func unknownCommand(c *cli.Context, path string) error {
	given := c.Args().First()
	of := ""
	if path != "" {
		of = " of `" + path + "`"
	}
	hint := "see " + strings.TrimSpace("stopwise "+path) + " --help"
	if s := Closest(given, commandNames(c.Command.Subcommands)); s != "" {
		hint = fmt.Sprintf("did you mean %q?", s)
	}
	return UsageHint(hint, "no command %q%s", given, of)
}

func commandNames(list []*cli.Command) []string {
	var names []string
	for _, c := range list {
		if !c.Hidden {
			names = append(names, c.Names()...)
		}
	}
	return names
}

// VersionText returns the version with what is known of the build.
func VersionText(build *debug.BuildInfo) string {
	if build == nil {
		return Version
	}
	var parts []string
	modified := false
	for _, s := range build.Settings {
		switch s.Key {
		case "vcs.revision":
			parts = append(parts, "revision "+s.Value[:min(12, len(s.Value))])
		case "vcs.modified":
			modified = s.Value == "true"
		}
	}
	if modified {
		parts = append(parts, "modified")
	}
	return Version + " (" + strings.Join(append(parts, build.GoVersion), ", ") + ")"
}

// output keeps the first error of writing, because help, for one, is written
// without a look at errors.
type output struct {
	w   io.Writer
	err error
}

func (o *output) Write(p []byte) (int, error) {
	if o.err != nil {
		return 0, o.err
	}
	n, err := o.w.Write(p)
	o.err = err
	return n, err
}

// Fd lets a terminal be recognised through the output.
func (o *output) Fd() uintptr {
	if f, ok := o.w.(interface{ Fd() uintptr }); ok {
		return f.Fd()
	}
	return ^uintptr(0)
}
