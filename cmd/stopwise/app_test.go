package main

import (
	"bytes"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"syscall"
	"testing"

	"github.com/urfave/cli/v2"

	"github.com/google/go-cmp/cmp"

	"stopwise/cmd/stopwise/internal/shell"
)

// full tries what is left out by default, as CI does: the default has a case of every
// kind and takes half the time.
var full = flag.Bool("full", false, "every state of the cards, every language on every screen, every format of every form of threshold")

var update = flag.Bool("update", false, "rewrite the golden files and scripts")

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), got); d != "" {
		t.Errorf("%s (-want +got):\n%s", path, d)
	}
}

func TestMessagesOfARun(t *testing.T) {
	for _, c := range []struct {
		args   string
		status int
		want   string
	}{
		{"chek", 2, `no command "chek"; did you mean "check"?`},
		{"zzz", 2, `no command "zzz"; see stopwise --help`},
		{"zzz --help", 2, `no command "zzz"; see stopwise --help`},
		{"help chek", 2, `no command "chek"; did you mean "check"?`},
		{"-- --help", 2, `no command "--help"; see stopwise --help`},
		{"size detct", 2, "no command \"detct\" of `size`; did you mean \"detect\"?"},
		{"size", 2, "size needs one of detect or mean"},
		{"--verison", 2, "no flag --verison; did you mean --version?"},
		{"--zzz", 2, "no flag --zzz; see stopwise --help"},
		{"size detect --prevalance 5%", 2, "no flag --prevalance for `size detect`; did you mean --prevalence?"},
		{"check plan.json 3 --stag leafing", 2, "no flag --stag for `check`; did you mean --stage?"},
		{"check plan.json 3 -x", 2, "no flag -x for `check`; see stopwise check --help"},
		{"check plan.json ---stage leafing", 2, `"---stage" is not a flag`},
		{"check plan.json 3 --stage", 2, "--stage needs a value"},
		{"check plan.json --brief=yes", 2, `--brief: "yes" is not true or false`},
		{"check --format xml", 2, `--format: "xml" is not known; write text, csv, json or markdown`},
		{"check --seed 1 --seed 2", 2, "--seed: given twice, 1 and 2"},
		{"check", 2, "the plan is missing"},
		{"size detect --n x", 2, `--n: "x" is not a number`},
		{"size detect --prevalence 25", 2, `--prevalence: "25" is not a share; write 25% or 0.25`},
		{"size detect", 2, "--prevalence is missing"},
		{"size detect --prevalence 5% --confidence 90% --k 1 --taylor 2,1.5", 2, "--k and --taylor cannot be used together; give one of them"},
		{"size detect --prevalence 5% --confidence 90% --lower 30% --upper 15%", 2, "--lower 30% must be below --upper 15%"},
		{"size detect --prevalence 5% --confidence 90% --rho 0.1..0.2", 2, "--rho: 0.1..0.2 is a range; give one value here"},
		{"fail panic", 1, "internal error: a; b"},
		{"fail bug", 1, "internal error: interface conversion: interface is nil, not error"},
		{"fail work", 1, "no plan keeps both risks within 20 stops"},
		{"fail missing", 2, "marrow.toml: file does not exist"},
		{"fail format", 2, "csv cannot hold this output; use text or markdown"},
		{"fail input", 2, "marrow.toml:12: unknown key \"uper\"\nstopwise: marrow.toml:14:5: stage appears twice\nstopwise: marrow.toml: no stage"},
	} {
		status, out, errOut := try(c.args)
		if want := "stopwise: " + c.want + "\n"; errOut != want || status != c.status {
			t.Errorf("stopwise %s: status %d, want %d\n got %q\nwant %q", c.args, status, c.status, errOut, want)
		}
		if out != "" {
			t.Errorf("stopwise %s: printed %q although it failed", c.args, out)
		}
	}
}

func TestArgumentsReachTheCommand(t *testing.T) {
	usual := ` format text seed 1 rho 0 plants 20 brief false`
	for args, want := range map[string]string{
		"check plan.json 3 5 2/18 --stage leafing":                                  `["plan.json" "3" "5" "2/18"] stage "leafing"` + usual,
		"check --stage leafing plan.json 3":                                         `["plan.json" "3"] stage "leafing"` + usual,
		"check plan.json --stage=leafing -5 -.5 -":                                  `["plan.json" "-5" "-.5" "-"] stage "leafing"` + usual,
		"check plan.json -- --stage leafing":                                        `["plan.json" "--stage" "leafing"] stage ""` + usual,
		"check stage --stage stage":                                                 `["stage"] stage "stage"` + usual,
		"check detect --stage -5":                                                   `["detect"] stage "-5"` + usual,
		"check -brief p --seed 7 --rho 0.1..0.2 --format json --plants-per-stop 18": `["p"] stage "" format json seed 7 rho 0.1..0.2 plants 18 brief true`,
	} {
		status, out, errOut := try(args)
		if out != want+"\n" || errOut != "" || status != 0 {
			t.Errorf("stopwise %s: status %d %q\n got %q\nwant %q", args, status, errOut, out, want)
		}
	}
}

func TestFlagsDoNotKeepTheirValues(t *testing.T) {
	_, first, _ := try("check plan.json")
	try("check plan.json --stage leafing --seed 9")
	if _, again, _ := try("check plan.json"); again != first {
		t.Errorf("%q after another run, %q before", again, first)
	}
}

func TestHelp(t *testing.T) {
	for name, args := range map[string]string{"help-app.text": "--help", "help-check.text": "check --help", "help-size.text": "size --help", "help-detect.text": "size detect --help"} {
		status, out, errOut := try(args)
		if status != 0 || errOut != "" {
			t.Errorf("stopwise %s: status %d, %q", args, status, errOut)
		}
		golden(t, name, out)
		for _, same := range []string{"help " + strings.TrimSuffix(args, "--help"), strings.Replace(args, "--help", "-h", 1)} {
			if _, again, _ := try(same); again != out {
				t.Errorf("stopwise %s differs from stopwise %s:\n%s", same, args, again)
			}
		}
	}
	_, want, _ := try("check --help")
	for _, args := range []string{"check plan.json 3 --help", "check --help plan.json", "check --stage leafing -h", "check --seed x -help", "check --nosuch --help"} {
		if status, out, errOut := try(args); out != want || errOut != "" || status != 0 {
			t.Errorf("stopwise %s: status %d, %q, %q", args, status, out, errOut)
		}
	}
	_, want, _ = try("--help")
	for _, args := range []string{"", "help", "-h"} {
		if status, out, errOut := try(args); out != want || errOut != "" || status != 0 {
			t.Errorf("stopwise %s: status %d, %q, %q", args, status, out, errOut)
		}
	}
}

func TestVersion(t *testing.T) {
	for _, args := range []string{"--version", "-v"} {
		status, out, errOut := try(args)
		if status != 0 || errOut != "" || !strings.HasPrefix(out, "stopwise version "+shell.Version) {
			t.Errorf("stopwise %s: status %d, %q, %q", args, status, out, errOut)
		}
	}
	build := &debug.BuildInfo{GoVersion: "go1.26.0", Settings: []debug.BuildSetting{
		{Key: "vcs.revision", Value: "0123456789abcdef0123"}, {Key: "vcs.modified", Value: "true"}}}
	if got, want := shell.VersionText(build), shell.Version+" (revision 0123456789ab, modified, go1.26.0)"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got := shell.VersionText(nil); got != shell.Version {
		t.Errorf("%q, want %q", got, shell.Version)
	}
}

func TestNoArguments(t *testing.T) {
	var out, errOut bytes.Buffer
	if status := run(nil, strings.NewReader(""), &out, &errOut); status != 0 || errOut.Len() > 0 || out.Len() == 0 {
		t.Errorf("status %d, %q, %q", status, out.String(), errOut.String())
	}
}

type brokenWriter struct{ err error }

func (b brokenWriter) Write([]byte) (int, error) { return 0, b.err }

func TestOutputThatCannotBeWritten(t *testing.T) {
	full := &os.PathError{Op: "write", Path: "stdout", Err: syscall.ENOSPC}
	pipe := &os.PathError{Op: "write", Path: "stdout", Err: syscall.EPIPE}
	for _, c := range []struct {
		args   string
		err    error
		status int
		want   string
	}{
		{"--help", pipe, 0, ""},
		{"check plan.json", pipe, 0, ""},
		{"check plan.json", full, 1, "stopwise: cannot write the output: no space left on device\n"},
		{"--help", full, 1, "stopwise: cannot write the output: no space left on device\n"},
		{"fail work", full, 1, "stopwise: no plan keeps both risks within 20 stops\n"},
		{"check plan.json", errors.New("gone"), 1, "stopwise: cannot write the output: gone\n"},
	} {
		var errOut bytes.Buffer
		status := shell.Run(trialCommands, append([]string{"stopwise"}, strings.Fields(c.args)...), nil, brokenWriter{c.err}, &errOut)
		if status != c.status || errOut.String() != c.want {
			t.Errorf("stopwise %s, output fails with %v: status %d, %q, want %d, %q", c.args, c.err, status, errOut.String(), c.status, c.want)
		}
	}
}

// Every shared flag says in the help what it takes, within the width.
func TestFlagHelp(t *testing.T) {
	all := []cli.Flag{shell.LowerFlag(), shell.UpperFlag(), shell.LowerMeanFlag(), shell.UpperMeanFlag(), shell.NeedlessRiskFlag(), shell.MissedRiskFlag(),
		shell.PlantsPerStopFlag(), shell.MinStopsFlag(), shell.MaxStopsFlag(), shell.RhoFlag(), shell.KFlag(), shell.TaylorFlag(), shell.TallyFlag(),
		shell.WalkMinutesFlag(), shell.PlantMinutesFlag(), shell.PrevalenceFlag(), shell.ConfidenceFlag(), shell.SeedFlag(), shell.StageFlag(), shell.FormatFlag()}
	text := ""
	for _, f := range all {
		text += f.String() + "\n"
	}
	golden(t, "help-flags.text", text)
}
