package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
)

// A calling is a way to call a command: PLAN, PROTOCOL and the like stand for
// files, STAGE for the stage's name, LEVELS for two levels. It is tried in every
// format that the command offers.
type calling struct {
	args    string
	in      string // standard input
	once    bool   // as text only: what it makes is a file
	measure string // share or mean, where the other is refused; else ""
	single  bool   // refused where other stages have another measure
	fails   bool   // may end with status 1: such a plan need not exist
	dear    bool   // searches for plans: by default in one of the formats tried, with -full in each
}

// What each command that takes a plan, a protocol or a season's file is called with.
var crossings = map[string][]calling{
	"design": {
		{args: "design PROTOCOL --stage STAGE"},
		{args: "design PROTOCOL --stage STAGE --compare", dear: true},
		{args: "design PROTOCOL --stage STAGE --table TABLE", dear: true},
		{args: "design PROTOCOL --stage STAGE --precision 60% --precision-as half-width", fails: true},
		{args: "design PROTOCOL --stage STAGE --method lines --page page.html --out again.json", once: true},
		{args: "design PROTOCOL --stage STAGE --method iwao", once: true, fails: true},
		{args: "design PROTOCOL --stage STAGE --method fixed"},
	},
	"table":          {{args: "table PLAN --stage STAGE"}, {args: "table PLAN --stage STAGE --plot table.svg --walk WALK", once: true}},
	"curve":          {{args: "curve PLAN --stage STAGE"}, {args: "curve PLAN --stage STAGE --at LEVELS --plot curve.svg", once: true}},
	"follow":         {{args: "follow PLAN --stage STAGE --days 20"}, {args: "follow PLAN --stage STAGE --at LEVELS --days 10", once: true}},
	"route":          {{args: "route PLAN --stage STAGE --size 120x100"}},
	"bulletin":       {{args: "bulletin PLAN --out bulletin.pdf"}},
	"check":          {{args: "check PLAN 1 --stage STAGE"}, {args: "check PLAN 4 4 4 --stage STAGE"}, {args: "check PLAN 0 1/3 0 --found --stage STAGE"}},
	"card":           {{args: "card PLAN --stage STAGE --out card.html"}},
	"walk":           {{args: "walk PLAN --season new.season --field north --stage STAGE --date 2026-06-01", in: "ZEROS"}},
	"season list":    {{args: "season list SEASON"}},
	"season show":    {{args: "season show SEASON --field north"}},
	"season due":     {{args: "season due SEASON --date 2026-06-20"}},
	"season summary": {{args: "season summary SEASON"}},
	"season export":  {{args: "season export SEASON"}},
	"season verify":  {{args: "season verify SEASON"}},
	"season import":  {{args: "season import fresh.season EXPORT --plan PLAN"}},
	"validate": {
		{args: "validate PLAN --stage STAGE --simulate CLUMPING,mixture,misread,short --overlooked 5% --visits 100"},
		{args: "validate PLAN --stage STAGE --simulate patches"},
		{args: "validate PLAN --stage STAGE --simulate space --pattern uniform --route zigzag --visits 100"},
		{args: "validate PLAN --stage STAGE --data DATA --all-fields-independent --visits 100", once: true},
	},
	"tally choose":   {{args: "tally choose PROTOCOL --tallies 1,2 --rho 0.05", measure: "mean", single: true, dear: true}},
	"tally curve":    {{args: "tally curve PLAN --stage STAGE --tally TALLY --k 1", measure: "share"}},
	"study coverage": {{args: "study coverage PLAN --stage STAGE"}},
	"study fields":   {{args: "study fields PLAN --stage STAGE --fields 20"}, {args: "study fields PLAN --stage STAGE --fields 5 --plot fields.svg", once: true}},
	"study season":   {{args: "study season PLAN --stage STAGE"}},
	"study lines":    {{args: "study lines PLAN --stage STAGE --walks 20"}},
}

// Commands that take neither, or that have tests of their own where they do.
var noCrossing = map[string]string{
	"demo": "takes nothing", "fit": "takes counts", "completion": "takes a shell", "__complete": "takes words",
	"size proportion": "takes flags", "size mean": "takes flags", "size classify": "takes flags", "size detect": "takes flags", "size allocate": "takes flags",
	"tally share": "takes flags", "tally mean": "takes flags", "tally table": "takes flags",
	"study scouts": "takes flags", "study effort": "takes flags", "study explain": "takes a topic", "study maps": "takes flags", "study looks": "takes flags", "study tables": "takes flags", "words": "takes a language",
	"season merge": "two files, in season-exchange.txtar", "season void": "in season-amend.txtar", "season rename": "in season-amend.txtar", "season expect": "takes a list of fields",
}

// A new command is named in one of the lists above, or this fails.
func TestEveryCommandIsCrossed(t *testing.T) {
	var names []string
	walkCommands(commands(shell.Env{}), "", func(c *cli.Command, path string) {
		if len(c.Subcommands) > 0 {
			return
		}
		names = append(names, path)
		_, no := noCrossing[path]
		if (len(crossings[path]) > 0) == no {
			t.Errorf("%s: stands in %d lists, not in one: crossings if it takes a plan, a protocol or a season's file, else noCrossing", path, map[bool]int{true: 2}[no])
		}
	})
	for _, known := range slices.Concat(slices.Collect(maps.Keys(crossings)), slices.Collect(maps.Keys(noCrossing))) {
		if !slices.Contains(names, known) {
			t.Errorf("there is no command %s", known)
		}
	}
}

// Every law of clumping, with what a stage says of it.
var lawKeys = []struct {
	name, keys, measure string
	all                 bool // tried in all formats
}{
	{"rho", "rho = 0.1", "share", true},
	{"rho range", `rho = "0.05..0.2"`, "share", false},
	{"k", "k = 1.2\ncount_rho = 0", "mean", false},
	{"k range", "k = \"1.0..2.0\"\ncount_rho = 0", "mean", false},
	{"taylor", "taylor = [2.0, 1.4]\ncount_rho = 0", "mean", false},
	{"iwao", "iwao = [0.5, 1.3]\ncount_rho = 0", "mean", false},
	{"poisson", "poisson = true\ncount_rho = 0", "mean", false},
	{"k, alike", "k = 1.2\ncount_rho = \"0..0.1\"", "mean", true},
	{"taylor, alike", "taylor = [2.0, 1.4]\ncount_rho = 0.1", "mean", false},
}

// What every protocol below begins with; the pest and the numbers are INVENTED.
const crossedHead = `title = "invented"
[stop]
plants = 4
minimum_stops = 1
maximum_stops = 6
walk_minutes = 3
plant_minutes = 0.25
[sample_unit]
text = "one tuft"
leaves = 1
unit = "tuft"
[coming_back]
days_until_found = 7
days_once_found = 3
lead_days = 2
growth_per_day = 0.3
confidence = "80%"
`

const (
	shareStage = "[[stage]]\nname = \"leafing\"\nlower = \"10%\"\nupper = \"45%\"\nneedless_risk = \"20%\"\nmissed_risk = \"20%\"\n"
	meanStage  = "[[stage]]\nname = \"leafing\"\nmeasure = \"mean per leaf\"\nlower = 0.5\nupper = 3\nneedless_risk = \"20%\"\nmissed_risk = \"20%\"\n"
)

// A crossing is a protocol with its plan, a season and a table of counts, in a
// directory of its own.
type crossing struct {
	t       *testing.T
	dir     string
	measure string // share or mean
	stage   string
	tally   string   // the stage's tally number, or one to ask for
	several bool     // there are stages of other measures too
	zeros   []string // as many stops without a find as bring a verdict
}

func newCrossing(t *testing.T, protocol, measure, stage string) *crossing {
	t.Helper()
	c := &crossing{t: t, dir: t.TempDir(), measure: measure, stage: stage, tally: "3"}
	c.write("protocol.toml", protocol)
	method := "lines"
	if strings.Contains(protocol, "counting = ") {
		method = "fixed"
	}
	c.must("", "design", c.file("protocol.toml"), "--method", method, "--out", c.file("plan.json"))
	for verdict := "continue"; verdict == "continue" && len(c.zeros) < 20; {
		c.zeros = append(c.zeros, "0")
		var answer struct{ Verdict string }
		check := append([]string{"check", c.file("plan.json"), "--stage", stage, "--format", "json"}, c.zeros...)
		if err := json.Unmarshal([]byte(c.must("", check...)), &answer); err != nil {
			t.Fatal(err)
		}
		verdict = answer.Verdict
	}
	c.must(strings.Join(c.zeros, "\n"), "walk", c.file("plan.json"), "--season", c.file("a.season"), "--field", "north", "--stage", stage, "--date", "2026-06-01")
	c.write("table.csv", c.must("", "table", c.file("plan.json"), "--stage", stage, "--format", "csv"))
	c.write("visits.csv", c.must("", "season", "export", c.file("a.season"), "--format", "csv"))
	counts := "field,stage,date,stop,plants,infested\n"
	if measure == "mean" {
		counts = "field,stage,date,stop,plant,leaf,count\n"
	}
	for stop := range 6 {
		if measure == "mean" {
			for plant := range 4 {
				counts += fmt.Sprintf("south,%s,2026-06-01,%d,%d,1,%d\n", stage, stop+1, plant+1, (stop+plant)%4)
			}
			continue
		}
		counts += fmt.Sprintf("south,%s,2026-06-01,%d,8,%d\n", stage, stop+1, stop%3)
	}
	c.write("counts.csv", counts)
	return c
}

func (c *crossing) file(name string) string { return filepath.Join(c.dir, name) }

func (c *crossing) write(name, text string) {
	c.t.Helper()
	if err := os.WriteFile(c.file(name), []byte(text), 0o644); err != nil {
		c.t.Fatal(err)
	}
}

// must runs a call that has to succeed, and returns what it prints.
func (c *crossing) must(in string, args ...string) string {
	c.t.Helper()
	status, out, errOut := inProcess(in, args...)
	if status != 0 {
		c.t.Fatalf("%q: status %d, %s", args, status, errOut)
	}
	return out
}

func inProcess(in string, args ...string) (status int, out, errOut string) {
	var o, e bytes.Buffer
	status = run(append([]string{"stopwise"}, args...), strings.NewReader(in), &o, &e)
	return status, o.String(), e.String()
}

// words fills in the arguments of a calling.
func (c *crossing) words(text string) (args []string) {
	levels, clumping := "10%,30%", "rho"
	if c.measure == "mean" {
		levels, clumping = "0.5,2", "k"
	}
	known := map[string]string{"PLAN": c.file("plan.json"), "PROTOCOL": c.file("protocol.toml"), "STAGE": c.stage, "SEASON": c.file("a.season"), "TABLE": c.file("table.csv"),
		"EXPORT": c.file("visits.csv"), "DATA": c.file("counts.csv"), "LEVELS": levels, "WALK": strings.Join(c.zeros, ","), "TALLY": c.tally}
	for _, w := range strings.Fields(text) {
		switch value := known[w]; {
		case value != "":
			w = value
		case regexp.MustCompile(`^[a-z]+\.[a-z]+$`).MatchString(w):
			w = c.file(w)
		}
		args = append(args, strings.Replace(w, "CLUMPING", clumping, 1))
	}
	return args
}

// refuses finds that a command has no such format, or cannot hold this output.
var refuses = regexp.MustCompile(`cannot hold this output|--format: "[a-z]+" is not known`)

// cross tries every call in some formats, and hands what was printed to look.
func (c *crossing) cross(tried []string, look func(call, format, out string)) {
	c.t.Helper()
	for _, path := range slices.Sorted(maps.Keys(crossings)) {
		for _, call := range crossings[path] {
			formats := tried
			switch {
			case call.once || !offers(path, "format"):
				formats = []string{""}
			case call.dear && !*full: // the tests of other laws and stages take the other formats
				formats = formats[len(c.t.Name())%len(formats):][:1]
			}
			held := 0
			for _, format := range formats {
				name := call.args + ", format " + format
				args := c.words(call.args)
				if format != "" {
					args = append(args, "--format", format)
				}
				os.Remove(c.file("new.season"))
				os.Remove(c.file("fresh.season"))
				status, out, errOut := inProcess(strings.Replace(call.in, "ZEROS", strings.Join(c.zeros, "\n"), 1), args...)
				if fault := badEnd(status, out, errOut); fault != "" {
					c.t.Errorf("%s: %s\n%s%.300s", name, fault, errOut, out)
				}
				switch refused := c.refused(call); {
				case status == 0 && refused:
					c.t.Errorf("%s: is not refused for a %s\n%.300s", name, c.measure, out)
				case status == 0:
					held++
					if fault := badShape(format, out); fault != "" {
						c.t.Errorf("%s: %s\n%.300s", name, fault, out)
					}
					if look != nil {
						look(call.args, format, out)
					}
				case status == shell.StatusInput && strings.Contains(errOut, "no precision plan for a correlation"):
					refused, held = true, held+1 // it takes leaves as independent, and says so
				case status == shell.StatusInput && strings.Contains(errOut, "does not tell where looking ends"):
					refused, held = true, held+1 // it shows the share seen
				case status == shell.StatusInput && strings.Contains(errOut, "of running totals only"):
					refused, held = true, held+1 // of a method for what is found, and says so
				case status == shell.StatusInput && (refused || refuses.MatchString(errOut)), status == shell.StatusFailed && call.fails:
				default:
					c.t.Errorf("%s: status %d, %s", name, status, errOut)
				}
			}
			if held == 0 && !call.fails && !c.refused(call) {
				c.t.Errorf("%s: no format holds it", call.args)
			}
		}
	}
}

func (c *crossing) refused(call calling) bool {
	return call.measure != "" && call.measure != c.measure || call.single && c.several
}

// offers tells whether a command has a flag.
func offers(path, flag string) bool {
	has := false
	walkCommands(commands(shell.Env{}), "", func(c *cli.Command, at string) {
		has = has || at == path && slices.ContainsFunc(c.Flags, func(f cli.Flag) bool { return slices.Contains(f.Names(), flag) })
	})
	return has
}

// badEnd says what is wrong with how a run ended; "" where nothing is.
func badEnd(status int, out, errOut string) string {
	var last string
	if lines := strings.Split(strings.TrimSpace(errOut), "\n"); len(lines) > 0 {
		last = lines[len(lines)-1]
	}
	switch {
	case strings.Contains(errOut, "internal error") || strings.Contains(out, "internal error"):
		return "an internal error"
	case strings.Contains(out, "%!") || strings.Contains(errOut, "%!"):
		return "a text with a verb left open"
	case regexp.MustCompile(`\bNaN\b|[-+]Inf\b`).MatchString(out + errOut):
		return "not a number in the text"
	case status < 0 || status > 2:
		return fmt.Sprintf("status %d", status)
	case status == 0 && strings.Contains(errOut, "stopwise: "):
		return "a message though the work was done"
	case status == 2 && strings.Count(strings.TrimSpace(errOut), "\n") != 0:
		return "more than one line"
	case status != 0 && !strings.HasPrefix(last, "stopwise: "):
		return fmt.Sprintf("status %d without a message", status)
	}
	return ""
}

// badShape says what is wrong with an output of a format; "" where nothing is.
func badShape(format, out string) string {
	switch format {
	case "json":
		for d := json.NewDecoder(strings.NewReader(out)); d.More(); { // walk writes one document a stop
			var head struct {
				Kind    string
				Version int
			}
			if err := d.Decode(&head); err != nil || head.Kind == "" || head.Version < 1 {
				return fmt.Sprintf("kind %q, version %d, %v", head.Kind, head.Version, err)
			}
		}
	case "csv":
		rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
		if err != nil || len(rows) == 0 || slices.Contains(rows[0], "") {
			return fmt.Sprintf("%d rows, %v", len(rows), err)
		}
	case "text", "markdown":
		if strings.TrimSpace(out) == "" {
			return "nothing printed"
		}
	}
	return ""
}

// Every law of clumping, and so every form of threshold, by every command that
// takes a plan or a protocol, in text and JSON; with -full in every format.
func TestEveryLawByEveryCommand(t *testing.T) {
	t.Parallel()
	for _, law := range lawKeys {
		t.Run(law.name, func(t *testing.T) {
			t.Parallel()
			stage, formats := shareStage, []string{""}
			if law.all {
				formats = []string{"", "json"}
				if *full {
					formats = report.Formats
				}
			}
			if law.measure == "mean" {
				stage = meanStage
			}
			newCrossing(t, crossedHead+"[clumping]\n"+law.keys+"\n"+stage, law.measure, "leafing").cross(formats, nil)
		})
	}
}

// Every way of counting by every command that takes a plan or a protocol, in stages that
// differ in it and in the worlds in which the promise must hold: each command tells the
// one stage's, and never another's.
func TestEveryCountingByEveryCommand(t *testing.T) {
	t.Parallel()
	head := strings.Replace(crossedHead, "minimum_stops = 1", "minimum_stops = 3", 1)
	stage := func(name, keys string) string { return strings.Replace(shareStage, "leafing", name, 1) + keys }
	several := head + "[clumping]\nrho = 0.1\n" +
		stage("found", "patches = true\noverlooked = \"7%\"\n") +
		stage("capped", "counting = \"capped\"\ncap = 2\n") +
		stage("pointed", "counting = \"points\"\npoints = 9\nfalse_finds = \"3%\"\n")
	of := map[string]string{"found": `\b7% overlooked|7% of the infested`, "capped": `2 or more|at most 2 `, "pointed": `\bpoints?\b|\b3% false`}
	for name := range of {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			told := map[string]bool{}
			newCrossing(t, several, "share", name).cross([]string{"text", "json"}, func(call, format, out string) {
				if !strings.Contains(call, "STAGE") || format == "json" || strings.Contains(call, "--compare") {
					return // tells of all stages, or of all that a stop could count
				}
				for stage, words := range of {
					found := regexp.MustCompile(words).FindString(out)
					told[stage] = told[stage] || found != ""
					if stage != name && found != "" {
						t.Errorf("%s, format %s: %q, which is said of the stage %s", call, format, found, stage)
					}
				}
			})
			if !told[name] {
				t.Error("no command tells what is counted, or where the promise holds")
			}
		})
	}
	insects := head + "[clumping]\nk = 0.8\ncount_rho = 0.1\n" +
		strings.Replace(meanStage, "leafing", "capped", 1) + "counting = \"capped\"\ncap = 9\n" +
		strings.Replace(meanStage, "leafing", "pointed", 1) + "counting = \"points\"\npoints = 9\n"
	for name, formats := range map[string][]string{"capped": {"text", "csv"}, "pointed": {"json"}} {
		t.Run("insects "+name, func(t *testing.T) {
			t.Parallel()
			newCrossing(t, insects, "mean", name).cross(formats, nil)
		})
	}
	t.Run("a range", func(t *testing.T) {
		t.Parallel()
		protocol := head + "[clumping]\nrho = \"0.05..0.1\"\n" + stage("leafing", "counting = \"points\"\npoints = \"auto\"\n")
		newCrossing(t, protocol, "share", "leafing").cross([]string{""}, nil)
	})
}

// The second and the third stage replace every key that a stage may replace.
const replaced = `
text = "one stem"
leaves = 3
tally = 7
unit = "stem"
plants = 6
minimum_stops = 2
maximum_stops = 8
walk_minutes = 5
plant_minutes = 2
source = "two"
days_until_found = 10
days_once_found = 4
lead_days = 1
growth_per_day = 0.1
confidence = "90%"
`

// A protocol whose stages differ in every key that a stage may replace: each
// command tells the one stage's unit, tally number and minutes, and never the
// other's.
func TestStagesDifferByEveryCommand(t *testing.T) {
	t.Parallel()
	protocol := strings.Replace(crossedHead, `leaves = 1`, "leaves = 1\ntally = 50", 1) + "[clumping]\nrho = 0.05\n" + shareStage +
		strings.Replace(shareStage, "leafing", "dough", 1) + "rho = \"0.05..0.1\"\n" + replaced +
		strings.Replace(meanStage, "leafing", "pods", 1) + "k = 1.2\ncount_rho = 0.1\n" + replaced
	for _, of := range []struct {
		stage, measure, unit, other, tally, otherTally string
		minutes                                        float64 // of a stop, by hand: 3 + 4 x 0.25 and 5 + 6 x 2
	}{
		{"leafing", "share", "tuft", "stem", "50", "7", 4},
		{"dough", "share", "stem", "tuft", "7", "50", 17},
		{"pods", "mean", "stem", "tuft", "7", "50", 17},
	} {
		t.Run(of.stage, func(t *testing.T) {
			t.Parallel()
			c := newCrossing(t, protocol, of.measure, of.stage)
			c.tally, c.several = of.tally, true
			c.cross([]string{"text", "json"}, func(call, format, out string) {
				if !strings.Contains(call, "STAGE") && !strings.Contains(call, "SEASON") {
					return // tells of all stages
				}
				words := regexp.MustCompile(`\b(` + of.other + `s?|plants?)\b`)
				if format == "text" || format == "markdown" || format == "" {
					for _, found := range words.FindAllStringIndex(out, -1) {
						at, found := found[0], out[found[0]:found[1]]
						t.Errorf("%s, format %s: says %q, and the unit is a %s: ...%s...", call, format, found, of.unit, strings.ReplaceAll(out[max(0, at-80):min(len(out), at+80)], "\n", " "))
					}
					if found := regexp.MustCompile(`\b` + of.otherTally + ` (insects )?or more`).FindString(out); found != "" {
						t.Errorf("%s, format %s: %q, and the tally number is %s", call, format, found, of.tally)
					}
				}
				if format == "json" {
					var all any
					if err := json.NewDecoder(strings.NewReader(out)).Decode(&all); err != nil {
						t.Fatal(err)
					}
					timely(all, "", func(path string, stops, minutes float64) {
						if math.Abs(minutes/stops-of.minutes) > 1e-6*of.minutes {
							t.Errorf("%s: %s: %g minutes for %g stops, want %g each", call, path, minutes, stops, of.minutes)
						}
					})
				}
			})
		})
	}
}

// timely finds the objects that tell stops and minutes.
func timely(x any, path string, tell func(path string, stops, minutes float64)) {
	switch x := x.(type) {
	case []any:
		for i, v := range x {
			timely(v, fmt.Sprintf("%s.%d", path, i), tell)
		}
	case map[string]any:
		stops, s := x["stops"].(float64)
		minutes, m := x["minutes"].(float64)
		if s && m && stops > 0 {
			tell(path, stops, minutes)
		}
		for key, v := range x {
			timely(v, path+"."+key, tell)
		}
	}
}
