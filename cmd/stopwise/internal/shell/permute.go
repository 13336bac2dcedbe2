package shell

import (
	"strings"

	"github.com/urfave/cli/v2"
)

// Permute moves a command's flags ahead of its arguments, because the parser
// stops at the first argument: `check plan.json 3 5 2/18 --stage leafing` works.
// "--" ends the flags; negative numbers are arguments. A help flag anywhere
// leaves only the command and --help, and "help X" becomes "X --help".
func Permute(app *cli.App, args []string) []string {
	if len(args) == 0 {
		return []string{app.Name}
	}
	if len(args) > 1 && args[1] == "help" && find(app.Commands, "help") == nil {
		args = append(append([]string{args[0]}, args[2:]...), "--help")
	}
	path, rest, inner, flags := descend(app, args[1:])
	given, positional, help := split(rest, flags)
	head := append([]string{args[0]}, path...)
	if help && (len(inner) == 0 || len(positional) == 0) {
		return append(head, "--help")
	}
	out := append(head, given.args...)
	if len(positional) == 0 || given.open {
		return out
	}
	return append(append(out, "--"), positional...)
}

// descend follows the names of commands at the start of args. It returns them,
// what comes after them, and the subcommands and flags of the last one.
func descend(app *cli.App, args []string) (path, rest []string, inner []*cli.Command, flags []cli.Flag) {
	inner, flags = app.Commands, app.Flags
	for len(args) > 0 {
		c := find(inner, args[0])
		if c == nil && len(path) > 0 && len(args) > 1 && find(inner, args[1]) != nil {
			// "season FILE due" is "season due FILE".
			args = append([]string{args[1], args[0]}, args[2:]...)
			continue
		}
		if c == nil {
			break
		}
		path, args = append(path, args[0]), args[1:]
		inner, flags = c.Subcommands, c.Flags
	}
	return path, args, inner, flags
}

type givenFlags struct {
	args []string
	open bool // the last one lacks its value
}

func split(args []string, flags []cli.Flag) (given givenFlags, positional []string, help bool) {
	for len(args) > 0 {
		a := args[0]
		args = args[1:]
		switch {
		case a == "--":
			return given, append(positional, args...), help
		case len(a) < 2 || a[0] != '-' || isNumber(a):
			positional = append(positional, a)
		case isHelp(a):
			help = true
		default:
			given.args = append(given.args, a)
			if !takesValue(flags, a) {
				continue
			}
			if len(args) == 0 {
				given.open = true
				return given, positional, help
			}
			given.args, args = append(given.args, args[0]), args[1:]
		}
	}
	return given, positional, help
}

func isNumber(s string) bool { return s[1] >= '0' && s[1] <= '9' || s[1] == '.' }

func isHelp(a string) bool {
	name, _, _ := strings.Cut(a, "=")
	switch name {
	case "-h", "--h", "-help", "--help":
		return true
	}
	return false
}

func find(list []*cli.Command, name string) *cli.Command {
	for _, c := range list {
		if c.HasName(name) {
			return c
		}
	}
	return nil
}

func takesValue(flags []cli.Flag, a string) bool {
	if strings.Contains(a, "=") {
		return false
	}
	name := strings.TrimPrefix(strings.TrimPrefix(a, "-"), "-")
	for _, f := range flags {
		for _, n := range f.Names() {
			if n == name {
				d, ok := f.(cli.DocGenerationFlag)
				return ok && d.TakesValue()
			}
		}
	}
	return false
}
