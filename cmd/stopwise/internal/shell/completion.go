package shell

import (
	"embed"
	"fmt"
	"io"
	"slices"
	"stopwise/sampling"
	"strings"

	"github.com/urfave/cli/v2"
)

//go:embed shells/*.txt
var shellScripts embed.FS

var shells = []string{"bash", "zsh", "fish"}

// CompletionCommand prints a script for a shell. The script asks the hidden
// command for what may come next.
func CompletionCommand(e Env) *cli.Command {
	return &cli.Command{
		Name:      "completion",
		Usage:     "print what lets a shell complete commands, flags and topics",
		ArgsUsage: Either(shells),
		Description: `Put the line into the shell's start file, to have it in every session. For zsh and fish likewise, as the first lines of their scripts say.

$ stopwise completion bash`,
		BashComplete: Completes(e, shells),
		Action: func(c *cli.Context) error {
			shell := c.Args().First()
			if c.NArg() != 1 || !slices.Contains(shells, shell) {
				return sampling.RefuseName(shell, shells, "completion takes one shell: %s", Either(shells))
			}
			text, err := shellScripts.ReadFile("shells/" + shell + ".txt")
			if err != nil {
				return err
			}
			_, err = e.Out.Write(text)
			return err
		},
	}
}

// Completes returns what a command's arguments can be, in the parser's shape.
func Completes(e Env, words []string) cli.BashCompleteFunc {
	if len(words) == 0 {
		return nil
	}
	return func(*cli.Context) { io.WriteString(e.Out, strings.Join(words, "\n")+"\n") }
}

func CompleteCommand(e Env) *cli.Command {
	return &cli.Command{
		Name:        "__complete",
		Usage:       "list what may come next on a command line, for shells",
		ArgsUsage:   "-- WORD...",
		Hidden:      true,
		Description: "Takes the words so far, the last of which may be empty or only begun. Prints nothing where a file may come.\n\n$ stopwise __complete -- study",
		Action: func(c *cli.Context) error {
			words := c.Args().Slice()
			if len(words) == 0 {
				words = []string{""}
			}
			last := len(words) - 1
			for _, s := range nextWords(c, words[:last], words[last]) {
				fmt.Fprintln(e.Out, s)
			}
			return nil
		},
	}
}

// nextWords returns what can stand in the place of a begun word. Where a
// command completes its arguments itself, it prints them all.
func nextWords(c *cli.Context, before []string, begun string) []string {
	path, rest, inner, flags := descend(c.App, before)
	if len(rest) > 0 && takesValue(flags, rest[len(rest)-1]) {
		return beginning(begun, valuesOf(flags, rest[len(rest)-1]))
	}
	if strings.HasPrefix(begun, "-") {
		return beginning(begun, flagNames(flags, rest))
	}
	if len(inner) > 0 {
		return beginning(begun, commandNames(inner))
	}
	if cmd := commandAt(c.App.Commands, path); cmd != nil && cmd.BashComplete != nil && len(rest) == 0 {
		cmd.BashComplete(c)
	}
	return nil
}

func beginning(begun string, words []string) []string {
	return slices.DeleteFunc(words, func(s string) bool { return !strings.HasPrefix(s, begun) })
}

func commandAt(list []*cli.Command, path []string) (cmd *cli.Command) {
	for _, name := range path {
		if cmd = find(list, name); cmd == nil {
			return nil
		}
		list = cmd.Subcommands
	}
	return cmd
}

// flagNames returns the flags that were not given yet.
func flagNames(flags []cli.Flag, given []string) []string {
	out := []string{"--help"}
	for _, f := range flags {
		for _, n := range f.Names() {
			if s := dashed(n); !slices.Contains(given, s) && !slices.Contains(out, s) {
				out = append(out, s)
			}
		}
	}
	return out
}

// valuesOf returns the words that a flag takes.
func valuesOf(flags []cli.Flag, given string) []string {
	name := strings.TrimLeft(given, "-")
	for _, f := range flags {
		if o, ok := f.(interface{ choices() []string }); ok && slices.Contains(f.Names(), name) {
			return slices.Clone(o.choices())
		}
	}
	return nil
}
