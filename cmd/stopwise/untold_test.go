package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/shell"
)

// What every command that speaks of a plan's risks is called with. PLAN and PROTOCOL
// are files, SEASON one of recorded visits, FILE.x a file to be written, whose text is
// read too. Commands that cannot speak of them are in speechless.
var untold = map[string][]string{
	"design":         {"design PROTOCOL", "design PROTOCOL --compare", "design PROTOCOL --method lines --page FILE.html"},
	"table":          {"table PLAN"},
	"curve":          {"curve PLAN --plot FILE.svg"},
	"follow":         {"follow PLAN --days 30"},
	"bulletin":       {"bulletin PLAN --out FILE.pdf"},
	"check":          {"check PLAN 3", "check PLAN 9 9 9", "check PLAN 9 0 8 2 9 3"},
	"card":           {"card PLAN --out FILE.html"},
	"walk":           {"walk PLAN --season SEASON --field north --date 2026-06-01"},
	"season list":    {"season list SEASON"},
	"season show":    {"season show SEASON --field north"},
	"season due":     {"season due SEASON --date 2026-06-20"},
	"season summary": {"season summary SEASON"},
	"season export":  {"season export SEASON"},
	"season verify":  {"season verify SEASON"},
	"validate":       {"validate PLAN --simulate mixture,patches,short --visits 100", "validate PLAN --pattern uniform --route zigzag --visits 100", "validate PLAN --simulate misread --require promise"},
	"study lines":    {"study lines PLAN --walks 100"},
	"study coverage": {"study coverage PLAN"},
	"study fields":   {"study fields PLAN --fields 20"},
	"study season":   {"study season PLAN"},
	"tally curve":    {"tally curve PLAN --k 0.8"},
	"route":          {"route PLAN --size 400x300"},
}

// tally choose makes plans for a share infested, without a sign.
var speechless = []string{"demo", "tally choose", "fit", "completion", "__complete", "words", "size proportion", "size mean", "size classify", "size detect", "size allocate",
	"tally share", "tally mean", "tally table", "study scouts", "study effort", "study maps", "study looks", "study tables", "study explain",
	"season import", "season merge", "season void", "season rename", "season expect"}

const untoldHead = `[stop]
plants = 5
minimum_stops = 3
maximum_stops = 6
[coming_back]
days_until_found = 7
days_once_found = 3
lead_days = 1
growth_per_day = 0.1
confidence = "80%"
[clumping]
`

const (
	untoldShares = "rho = 0.1\n[[stage]]\nname = \"pods\"\nlower = \"15%\"\nthreshold = \"27%\"\nupper = \"40%\"\nneedless_risk = \"18%\"\nmissed_risk = \"19%\"\n"
	untoldMeans  = "k = 1.1\n[[stage]]\nname = \"pods\"\nmeasure = \"mean per leaf\"\nlower = 0.5\nthreshold = 1\nupper = 2\nneedless_risk = \"18%\"\nmissed_risk = \"19%\"\n"
	untoldSign   = "sign = \"bronzed tips\"\nsign_stops = 2\n"
	untoldCosts  = "[costs]\ncurrency = \"crowns\"\ncrop_per_ha = 900\ntreatment_per_ha = 35\nscout_per_hour = 22\nfield_ha = 30\n"
)

// Nothing is said of a risk that was not computed: how many treatments a rule with a
// sign of unknown chances misses, or that it keeps its promise; and what is said of
// leaves that are taken as independent says so. The protocols are INVENTED.
func TestNothingUntoldIsSaid(t *testing.T) {
	t.Parallel()
	var known []string
	walkCommands(commands(shell.Env{}), "", func(c *cli.Command, path string) {
		if len(c.Subcommands) > 0 {
			return
		}
		known = append(known, path)
		if (len(untold[path]) > 0) == slices.Contains(speechless, path) {
			t.Errorf("%s is in both lists, or in none", path)
		}
	})
	for path := range untold {
		if !slices.Contains(known, path) {
			t.Errorf("there is no command %s", path)
		}
	}
	kept := regexp.MustCompile(`(?i)\bkept\b|keeps (its|the) promise|[^r] the promise holds (for|with|every)|"(keeps(_risks)?|holds)": ?true|,true,`)
	independent := regexp.MustCompile(`(?i)independent|"count_rho": ?0|broken_from_count_rho|count_rho`)
	for _, c := range []struct {
		name, protocol string
		fault          func(format, out string) string
	}{
		{"sign", untoldHead + untoldShares + untoldSign + untoldCosts, func(_, out string) string {
			if found := kept.FindString(out); found != "" {
				return "says " + found
			}
			if found := missedNumber(out); found != "" {
				return "says how many are missed: " + found
			}
			return ""
		}},
		{"independent leaves", untoldHead + "count_rho = 0\n" + untoldMeans, func(format, out string) string {
			if format == "csv" { // rows of numbers, without a place for what they rest on
				return ""
			}
			found := kept.FindString(out)
			if found == "" {
				found = regexp.MustCompile(`(?i)exact curves|of 100 (such )?fields`).FindString(out)
			}
			if found != "" && !independent.MatchString(out) {
				return "says " + found + ", and nothing of independent leaves"
			}
			return ""
		}},
		{"alike leaves", untoldHead + "count_rho = 0.1\n" + untoldMeans, func(_, out string) string {
			if found := regexp.MustCompile(`(?i)independent leaves|leaves of a stop are independent`).FindString(out); found != "" {
				return "says " + found
			}
			return ""
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			tellAll(t, c.protocol, c.fault)
		})
	}
	t.Run("nothing said of the leaves", func(t *testing.T) {
		file := filepath.Join(t.TempDir(), "p.toml")
		if err := os.WriteFile(file, []byte(untoldHead+untoldMeans), 0o644); err != nil {
			t.Fatal(err)
		}
		for _, call := range []string{"design", "bulletin", "follow"} {
			var out, errOut bytes.Buffer
			if status := run([]string{"stopwise", call, file}, strings.NewReader(""), &out, &errOut); status == 0 || !strings.Contains(errOut.String(), "count_rho is missing") && call == "design" {
				t.Errorf("%s: status %d, %s", call, status, errOut.String())
			}
		}
	})
}

// tellAll makes a plan and records a visit, and tries every call in every format.
func tellAll(t *testing.T, protocol string, fault func(format, out string) string) {
	dir := t.TempDir()
	file := func(name string) string { return filepath.Join(dir, name) }
	if err := os.WriteFile(file("PROTOCOL"), []byte(protocol), 0o644); err != nil {
		t.Fatal(err)
	}
	calling := func(in string, args ...string) (int, string, string) {
		var out, errOut bytes.Buffer
		status := run(append([]string{"stopwise"}, args...), strings.NewReader(in), &out, &errOut)
		return status, out.String(), errOut.String()
	}
	if status, out, errOut := calling("", "design", file("PROTOCOL"), "--method", "risk-true-lines", "--out", file("PLAN")); status != 0 {
		t.Fatalf("%s%s", out, errOut)
	}
	stops := "1\n1\n1\n"
	if strings.Contains(protocol, "sign") {
		stops = "1\nno\n1\nno\n1\nno\n"
	}
	paths := []string{"walk"} // first: it makes the season
	for path := range untold {
		if path != "walk" {
			paths = append(paths, path)
		}
	}
	slices.Sort(paths[1:])
	told := 0
	for _, path := range paths {
		for _, call := range untold[path] {
			words := strings.Fields(call)
			written := ""
			for i, w := range words {
				switch {
				case w == "PLAN" || w == "PROTOCOL" || w == "SEASON":
					words[i] = file(w)
				case strings.HasPrefix(w, "FILE."):
					written = file(w)
					words[i] = written
				}
			}
			formats := []string{"text", "json"} // Markdown holds what text holds, CSV the rows of JSON
			if *full {
				formats = append(formats, "csv")
			}
			if written != "" || path == "walk" { // what is told apart from the file has formats of its own calls
				formats = []string{""}
			}
			for _, format := range formats {
				args := words
				if format != "" {
					args = append(slices.Clone(words), "--format", format)
				}
				status, out, errOut := calling(stops, args...)
				if status == 2 {
					continue // of another measure, or without this format
				}
				told++
				text := out + errOut
				if written != "" {
					text += madeText(t, written)
					os.Remove(written)
				}
				if f := fault(format, text); f != "" {
					t.Errorf("%s, format %s: %s", call, format, f)
				}
			}
		}
	}
	least := 40
	if *full {
		least = 45
	}
	if told < least {
		t.Errorf("only %d outputs were read", told)
	}
}

// madeText returns what can be read in a file that was made: "" where there is none, and
// in a PDF without pdftotext (of poppler-utils).
func madeText(t *testing.T, file string) string {
	made, err := os.ReadFile(file)
	switch {
	case err != nil:
		return ""
	case !strings.HasSuffix(file, ".pdf"):
		return withoutPlan(string(made))
	}
	reader, err := exec.LookPath("pdftotext")
	if err != nil {
		return ""
	}
	text, err := exec.Command(reader, file, "-").Output()
	if err != nil || len(strings.Fields(string(text))) < 100 {
		t.Errorf("%s: %d words read, %v", filepath.Base(file), len(strings.Fields(string(text))), err)
	}
	// Sentences are set over several lines.
	return strings.Join(strings.Fields(string(text)), " ")
}

// withoutPlan leaves out what a page carries for its script.
func withoutPlan(page string) string {
	return regexp.MustCompile(`(?s)<script.*?</script>|<style.*?</style>|<p id="kept".*?>`).ReplaceAllString(page, "")
}

// missedNumber finds a chance of missing a treatment that is told as a number.
func missedNumber(out string) string {
	for d := json.NewDecoder(strings.NewReader(out)); strings.HasPrefix(strings.TrimSpace(out), "{"); {
		var all any
		if d.Decode(&all) != nil {
			break
		}
		if top, _ := all.(map[string]any); top["count_alone"] == true {
			break
		}
		if found := missedIn(all, ""); found != "" {
			return found
		}
	}
	return regexp.MustCompile(`(?i)(misses|leaves) (at most )?[0-9.]+% of|at most [0-9.]+% (of those )?are missed|at most [0-9]+ are left although|and fewer than 1 more than|and (none|[0-9]+) more than`).FindString(out)
}

// missedIn finds it in what a format for machines holds.
func missedIn(x any, path string) string {
	switch x := x.(type) {
	case []any:
		for _, y := range x {
			if found := missedIn(y, path); found != "" {
				return found
			}
		}
	case map[string]any:
		for key, y := range x {
			if number, ok := y.(float64); ok && number < 1 && slices.Contains([]string{"missed", "worst_missed", "p_leave", "p_late", "days_after_upper", "missed_treatment"}, key) && !strings.Contains(path, "from_here") {
				return fmt.Sprintf("%s.%s = %g", path, key, number)
			}
			if found := missedIn(y, path+"."+key); found != "" {
				return found
			}
		}
	}
	return ""
}
