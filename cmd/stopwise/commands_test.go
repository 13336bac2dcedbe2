package main

import (
	"io"
	"regexp"
	"strings"
	"testing"
	"unicode"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/shell"
)

func TestCommandsAreDescribed(t *testing.T) { describe(t, commands) }

func TestTrialCommandsAreDescribed(t *testing.T) {
	describe(t, func(e shell.Env) []*cli.Command { return trialCommands(e)[:1] })
	detect := func(e shell.Env) []*cli.Command {
		return []*cli.Command{{Name: "size", Usage: "how many", Subcommands: []*cli.Command{trialDetect(e)}}}
	}
	describe(t, detect)
}

// describe checks that every command says what it does and takes, and that the
// flags in the examples of its help exist and are accepted.
func describe(t *testing.T, list func(shell.Env) []*cli.Command) {
	walkCommands(list(shell.Env{}), "", func(c *cli.Command, path string) {
		if c.Usage == "" || !unicode.IsLower([]rune(c.Usage)[0]) || strings.HasSuffix(c.Usage, ".") {
			t.Errorf("%s: Usage %q; accepted: a phrase in lower case without a full stop", path, c.Usage)
		}
		if len(c.Subcommands) > 0 {
			return
		}
		if c.ArgsUsage == "" {
			t.Errorf("%s: no ArgsUsage; a space says that it takes no arguments", path)
		}
		examples := examplesIn(c.Description)
		if len(examples) == 0 || !strings.HasPrefix(examples[0]+" ", "stopwise "+path+" ") {
			t.Errorf("%s: the Description has no example of it: a paragraph that begins with `$ stopwise %s`", path, path)
		}
		for _, e := range examples {
			if status, errOut := parseOnly(list, strings.Fields(e)); status != 0 {
				t.Errorf("%s: %s: %s", path, e, errOut)
			}
		}
	})
}

func walkCommands(list []*cli.Command, parent string, visit func(c *cli.Command, path string)) {
	for _, c := range list {
		path := strings.TrimSpace(parent + " " + c.Name)
		visit(c, path)
		walkCommands(c.Subcommands, path, visit)
	}
}

var exampleLine = regexp.MustCompile(`(?m)^\s*\$ (.*(?:\\\n.*)*)`)

func examplesIn(description string) []string {
	var out []string
	for _, m := range exampleLine.FindAllStringSubmatch(description, -1) {
		out = append(out, strings.Join(strings.Fields(strings.ReplaceAll(m[1], "\\\n", " ")), " "))
	}
	return out
}

// parseOnly runs args with commands that do nothing once their flags are read:
// no files are written, and nothing takes long.
func parseOnly(list func(shell.Env) []*cli.Command, args []string) (status int, errOut string) {
	inert := func(e shell.Env) []*cli.Command {
		l := list(e)
		walkCommands(l, "", func(c *cli.Command, _ string) {
			c.Before, c.After = nil, nil
			if len(c.Subcommands) == 0 {
				c.Action = func(*cli.Context) error { return nil }
			}
		})
		return l
	}
	var b strings.Builder
	status = shell.Run(inert, args, strings.NewReader(""), io.Discard, &b)
	return status, b.String()
}

// FuzzArguments reads any arguments with the real commands and the made-up
// ones. A panic would show as an internal error.
func FuzzArguments(f *testing.F) {
	for _, s := range []string{
		"", "--help", "help size", "check\x00plan.json\x003\x00--stage", "size\x00detect\x00--rho\x000.1..0.2",
		"check\x00-5\x00--\x00--stage", "--version=\x00x", "size\x00-\x00---", "check\x00--brief=x", "check\x00--=\x00-=",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		args := append([]string{"stopwise"}, strings.Split(s, "\x00")...)
		for _, list := range []func(shell.Env) []*cli.Command{commands, trialCommands} {
			status, errOut := parseOnly(list, args)
			if status != shell.StatusDone && status != shell.StatusInput || strings.Contains(errOut, "internal error") {
				t.Errorf("%q: status %d, %s", args, status, errOut)
			}
			if (status == shell.StatusDone) != (errOut == "") {
				t.Errorf("%q: status %d with the message %q", args, status, errOut)
			}
			if errOut != "" && (!strings.HasPrefix(errOut, "stopwise: ") || strings.Count(errOut, "\n") != 1) {
				t.Errorf("%q: the message is not one line: %q", args, errOut)
			}
		}
	})
}

// A call that names a command builds that one alone, under the name that the table
// has for it; only what completes words, and a call that names none, needs all.
func TestCommandsAreNamed(t *testing.T) {
	e := shell.Env{}
	for i, c := range commands(e) {
		if c.Name != table[i].name {
			t.Errorf("%s stands in the table as %s", c.Name, table[i].name)
		}
		got, want := asked([]string{"stopwise", c.Name})(e), 1
		if c.Name == complete {
			want = len(table)
		}
		if len(got) != want || want == 1 && got[0].Name != c.Name {
			t.Errorf("for %s, %d commands are built", c.Name, len(got))
		}
	}
	for _, args := range [][]string{{"stopwise"}, {"stopwise", "--help"}, {"stopwise", "chek"}} {
		if got := asked(args)(e); len(got) != len(table) {
			t.Errorf("for %v, %d commands are built", args, len(got))
		}
	}
}
