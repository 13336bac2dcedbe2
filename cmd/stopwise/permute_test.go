package main

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"stopwise/cmd/stopwise/internal/shell"
)

func TestPermute(t *testing.T) {
	for in, want := range map[string]string{
		"":                            "",
		"check p 3 --stage leafing 5": "check --stage leafing -- p 3 5",
		"check p --brief 3":           "check --brief -- p 3",
		"check p --stage=leafing 3":   "check --stage=leafing -- p 3",
		"check p -- --stage":          "check -- p --stage",
		"check p 3 --stage":           "check --stage",
		"check p --stage -- 3":        "check --stage -- -- p 3",
		"check p -5 -.5 -":            "check -- p -5 -.5 -",
		"check p --what 3":            "check --what -- p 3",
		"size detect --prevalence 5%": "size detect --prevalence 5%",
		"size nosuch --prevalence 5%": "size --prevalence -- nosuch 5%",
		"check p --help 3":            "check --help",
		"check p --stage --help":      "check --stage --help -- p",
		"help size detect":            "size detect --help",
		"help":                        "--help",
		"size nosuch --help":          "size -- nosuch",
		"--version check p":           "--version -- check p",
	} {
		got := shell.Permute(shell.NewApp(trialCommands, shell.Env{}), append([]string{"stopwise"}, strings.Fields(in)...))
		if g := strings.Join(got[1:], " "); g != want {
			t.Errorf("%q becomes %q, want %q", in, g, want)
		}
	}
}

// Flags and arguments may be mixed in any order: what reaches the command is
// the same.
func TestPermuteKeepsOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		args := rapid.SliceOf(rapid.StringMatching(`[0-9]{1,2}(/[0-9]{1,2})?|-[0-9.]{1,4}|[a-z.]{1,9}`)).Draw(t, "arguments")
		args = append([]string{"plan.json"}, args...)
		flags := [][]string{{"--stage", "leafing"}, {"--seed=7"}, {"--brief"}}
		_, want, _ := tryArgs(append(append([]string{"check"}, "--stage", "leafing", "--seed=7", "--brief", "--"), args...)...)
		mixed := []string{"check"}
		for _, a := range args {
			for len(flags) > 0 && rapid.Bool().Draw(t, "flag here") {
				mixed, flags = append(mixed, flags[0]...), flags[1:]
			}
			mixed = append(mixed, a)
		}
		for _, f := range flags {
			mixed = append(mixed, f...)
		}
		status, got, errOut := tryArgs(mixed...)
		if d := cmp.Diff(want, got); d != "" || status != 0 {
			t.Fatalf("%q: status %d %s\n%s", mixed, status, errOut, d)
		}
	})
}
