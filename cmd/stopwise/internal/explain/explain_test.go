package explain

import (
	"fmt"
	"io/fs"
	"math"
	"regexp"
	"stopwise/cmd/stopwise/internal/report"
	"strings"
	"testing"
	"text/template/parse"
	"unicode/utf8"
)

// symbolDigit is a digit that belongs to a symbol, such as p0, or to the name of a
// standard in a command.
var symbolDigit = regexp.MustCompile(`[A-Za-z]\d`)

var decimal = regexp.MustCompile(`\d[.,]\d|\d\d`)

// Every number in a text is computed: the texts themselves hold none. Formulas
// hold the 0, 1, 2 and 4 of algebra, sources hold years, volumes and pages, and
// commands to try hold what is typed.
func TestNoNumberIsTypedIn(t *testing.T) {
	for _, topic := range Topics {
		parsed, err := topic.parse()
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range sections {
			section := parsed.Lookup(name)
			if section == nil {
				t.Errorf("%s has no %s", topic.Name, name)
				continue
			}
			text, numbers := texts(section.Root)
			if len(numbers) > 0 {
				t.Errorf("%s, %s: the numbers %q are given to the template", topic.Name, name, numbers)
			}
			switch name {
			case "source", "try", "symbols":
			case "formula":
				if s := decimal.FindString(text); s != "" {
					t.Errorf("%s, %s: %q", topic.Name, name, s)
				}
			default:
				if s := regexp.MustCompile(`\S*\d\S*`).FindString(symbolDigit.ReplaceAllString(text, "")); s != "" {
					t.Errorf("%s, %s: the number %q is typed in", topic.Name, name, s)
				}
			}
		}
	}
}

// texts returns the text of a template, and the numbers in its actions.
func texts(n parse.Node) (text string, numbers []string) {
	var b strings.Builder
	var walk func(parse.Node)
	list := func(l *parse.ListNode) {
		if l != nil {
			for _, n := range l.Nodes {
				walk(n)
			}
		}
	}
	walk = func(n parse.Node) {
		switch x := n.(type) {
		case *parse.TextNode:
			b.Write(x.Text)
		case *parse.ListNode:
			list(x)
		case *parse.RangeNode:
			walk(x.Pipe)
			list(x.List)
			list(x.ElseList)
		case *parse.IfNode:
			walk(x.Pipe)
			list(x.List)
			list(x.ElseList)
		case *parse.ActionNode:
			walk(x.Pipe)
		case *parse.PipeNode:
			for _, c := range x.Cmds {
				for _, a := range c.Args {
					walk(a)
				}
			}
		case *parse.NumberNode, *parse.StringNode:
			numbers = append(numbers, x.String())
		}
	}
	walk(n)
	return b.String(), numbers
}

// The test above can fail.
func TestTypedNumbersAreFound(t *testing.T) {
	trees, err := parse.Parse("x", `{{define "x"}}a 0.5 b {{percent 0.25}}{{range .P}} 7{{end}}{{end}}`, "", "", map[string]any{"percent": fmt.Sprint})
	if err != nil {
		t.Fatal(err)
	}
	text, numbers := texts(trees["x"].Root)
	if text != "a 0.5 b  7" || len(numbers) != 1 {
		t.Errorf("%q %q", text, numbers)
	}
}

// explained explains a topic once for all tests: some take a second.
func explained(t *testing.T, topic Topic) Text {
	t.Helper()
	if x, ok := explanations[topic.Name]; ok {
		return x
	}
	x, err := topic.Explain()
	if err != nil {
		t.Fatal(err)
	}
	explanations[topic.Name] = x
	return x
}

var explanations = map[string]Text{}

func TestTopicsExplain(t *testing.T) {
	names := map[string]bool{}
	for _, topic := range Topics {
		for _, n := range append([]string{topic.Name}, topic.Aliases...) {
			if names[n] {
				t.Errorf("%s names two topics", n)
			}
			names[n] = true
		}
		x := explained(t, topic)
		if x.Title == "" || len(x.What) == 0 || x.Formula == "" || len(x.Symbols) == 0 || len(x.Worked) == 0 || x.Source == "" || len(x.Try) == 0 {
			t.Errorf("%s lacks something: %+v", topic.Name, x)
		}
		if s := fmt.Sprintf("%+v", x); strings.Contains(s, "<no value>") || strings.Contains(s, "%!") || strings.Contains(s, "NaN") || strings.Contains(s, "n/a") {
			t.Errorf("%s: %s", topic.Name, s)
		}
		for _, try := range x.Try {
			if !strings.HasPrefix(try, "stopwise ") {
				t.Errorf("%s: %q is not a command", topic.Name, try)
			}
		}
	}
	files, err := fs.Glob(files, "topics/*")
	if err != nil || len(files) != len(Topics) {
		t.Errorf("%d files for %d topics, %v", len(files), len(Topics), err)
	}
}

func TestFind(t *testing.T) {
	for name, want := range map[string]string{"clumping": "clumping", "rho": "clumping", " OC ": "oc", "Wald": "lines", "nosuch": "", "": ""} {
		got, ok := Find(name)
		if got.Name != want || ok != (want != "") {
			t.Errorf("%q finds %q", name, got.Name)
		}
	}
}

// A symbol means one thing in all texts, and the glossary lists a term once.
func TestGlossary(t *testing.T) {
	terms, symbols, used := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, w := range Words {
		if w.Term == "" || w.Meaning == "" || terms[w.Term] || w.Symbol != "" && symbols[w.Symbol] {
			t.Errorf("%+v is empty or listed twice", w)
		}
		terms[w.Term], symbols[w.Symbol] = true, true
		used[w.Symbol] = w.tables
		if decimal.MatchString(w.Meaning) {
			t.Errorf("%+v: a number is typed in", w)
		}
	}
	for _, topic := range Topics {
		x := explained(t, topic)
		for _, w := range x.Symbols {
			used[w.Symbol] = true
		}
	}
	for s := range symbols {
		if s != "" && !used[s] {
			t.Errorf("no text uses the symbol %s", s)
		}
	}
}

var (
	symbolText = regexp.MustCompile(`[A-Za-z][A-Za-z0-9]*\*?(_[A-Za-z]+)?`)
	inWords    = regexp.MustCompile(`\ba [a-z]{3,}`) // "a share", where a is no symbol
	indexed    = regexp.MustCompile(`^(leave|act|to|on|best|x)_[jJ]?$`)
	oneOfThree = regexp.MustCompile(`^([wql])[01m]$`)
)

// symbolsOf returns the symbols of a formula as the glossary writes them. A word such as
// "a" or "to" is one where nothing but the glossary's index or a formula's sign follows.
func symbolsOf(formula string) map[string]bool {
	out := map[string]bool{}
	for line := range strings.SplitSeq(formula, "\n") {
		line = inWords.ReplaceAllString(strings.ReplaceAll(line, "'s", ""), "")
		line = regexp.MustCompile(`(leave|act|to|on|best)_\(j[+-]1\)|(leave|act|to|on|best)_0`).ReplaceAllString(line, "${1}${2}_j")
		for _, s := range symbolText.FindAllString(line, -1) {
			switch {
			case indexed.MatchString(s):
				s, _, _ = strings.Cut(s, "_")
				if s != "x" {
					s += "_j"
				}
			case oneOfThree.MatchString(s):
				s = map[byte]string{'w': "w", 'q': "q", 'l': "l0"}[s[0]]
			}
			if _, known := word(s); known || len(s) < 3 || strings.ContainsAny(s, "_*") {
				out[s] = true
			}
		}
	}
	return out
}

// Every symbol of a formula is among those that are explained below it, and no other is.
func TestFormulasAreExplained(t *testing.T) {
	small := map[string]bool{"ln": true, "of": true, "at": true, "or": true, "on": true, "to": true, "by": true, "is": true, "it": true, "in": true, "as": true, "exp": true}
	for _, topic := range Topics {
		x := explained(t, topic)
		said, formula := map[string]bool{}, x.Formula
		for _, w := range x.Symbols {
			said[w.Symbol] = true
		}
		for line := range strings.SplitSeq(formula, "\n") {
			if utf8.RuneCountInString(line)+2 > report.TextWidth {
				t.Errorf("%s: a formula is wider than a text: %s", topic.Name, line)
			}
		}
		in := symbolsOf(formula)
		for s := range in {
			if !said[s] && !small[s] {
				t.Errorf("%s: the symbol %q of the formula is not explained", topic.Name, s)
			}
		}
		for s := range said {
			if !in[s] {
				t.Errorf("%s: %q is explained and not in the formula", topic.Name, s)
			}
		}
	}
}

// The texts say one word for one thing.
func TestTextsFollowTheGlossary(t *testing.T) {
	for _, topic := range Topics {
		x := explained(t, topic)
		text := x.Title + "\n" + strings.Join(x.What, "\n") + "\n" + x.Formula
		for _, p := range x.Worked {
			text += "\n" + p.Text + "\n" + strings.Join(p.Items, "\n")
		}
		for _, fault := range Unsaid(text) {
			t.Errorf("%s: %s", topic.Name, fault)
		}
	}
	for _, w := range Words {
		for _, fault := range Unsaid(w.Term + ": " + w.Meaning) {
			t.Errorf("the glossary itself, %s: %s", w.Term, fault)
		}
	}
}

// The check above finds what it looks for, and lets the rest pass.
func TestUnsaid(t *testing.T) {
	for text, want := range map[string]int{
		"a standard error of 3, and two standard errors": 0, "an error of 10% a look": 1, "Stop lines and stop line": 2,
		"the terror of confidence": 0, "at a confidence level of 95%": 1, "plants of a stop are alike": 0, "all alike": 1, "stand-ard\nerror": 1,
	} {
		if got := Unsaid(text); len(got) != want {
			t.Errorf("%q: %q, want %d faults", text, got, want)
		}
	}
}

// Numbers of the texts that are known from elsewhere.
func TestWorkedNumbers(t *testing.T) {
	for topic, want := range map[string][]string{
		// ISPM 31 (2008): 59 plants at 5% and 95%; from memory.
		"detection": {"takes 59 independent plants"},
		// Green (1970) and Kuno (1969), formulas; values computed independently outside
		// the project: 100.79 and 46.15 at 10 leaves, 34.47 and 26.55 at 50.
		"precision": {"a total of 101 under", "at 46.2 under", "a total of 34.5 under", "at 26.5 under"},
		// Taylor's law, a 2.5, b 1.4, mean 2: 26.39 leaves; computed independently
		// outside the project.
		"taylor": {"takes 26.4 leaves"},
		// The fewest stops of fixed size and the bound on the average number of stops:
		// 8 and 4.886, computed independently outside the project.
		"fixed":     {"rho 0.1: 8 stops"},
		"bound":     {"fewer than 4.89 stops"},
		"intervals": {"Wilson, plants taken as independent: 10.7% to 27.3%"}, // base R 4.2.2, prop.test(14, 80, correct = FALSE)
		// By hand: 1 + 19 * 0.1, 80 / 2.9.
		"clumping": {"design effect is 2.90", "27.6 independent plants"},
		// By hand: 4 + 16/0.8, (1 + 4/0.8)^-0.8.
		"k": {"variance is 24.0", "23.8% of the leaves carry none"},
		// By hand: mean 140/20.
		"fit": {"mean 7.00"},
		// By hand: sqrt(3/0.25 * 9).
		"allocation": {"optimum is 10.4 plants"},
	} {
		found, _ := Find(topic)
		text := fmt.Sprint(explained(t, found).Worked)
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%s: %q is not in %s", topic, w, text)
			}
		}
	}
}

// What the texts say in words about their numbers is so.
func TestWordsFitTheNumbers(t *testing.T) {
	l, err := lines()
	if err != nil {
		t.Fatal(err)
	}
	var needless, missed float64
	read(t, l, "Needless", &needless)
	read(t, l, "Missed", &missed)
	if !(needless > risk && missed > risk) {
		t.Errorf("the lines keep their risks: %g, %g", needless, missed)
	}
	r, err := riskTrue()
	if err != nil {
		t.Fatal(err)
	}
	var best, straight, textbook, broken float64
	read(t, r, "Stops", &best)
	read(t, r, "LinesStops", &straight)
	read(t, r, "TextbookStops", &textbook)
	read(t, r, "TextbookNeedless", &broken)
	if !(textbook < best && best <= straight && broken > risk) {
		t.Errorf("stops %g, %g, %g, risk %g", textbook, best, straight, broken)
	}
	back, err := comingBack()
	if err != nil {
		t.Fatal(err)
	}
	var level, to, rate, reach, lead, left float64
	read(t, back, "Level", &level)
	read(t, back, "Threshold", &to)
	read(t, back, "R", &rate)
	read(t, back, "Reach", &reach)
	read(t, back, "Lead", &lead)
	read(t, back, "Left", &left)
	if want := math.Log(to*(1-level)/(level*(1-to))) / rate; math.Abs(reach-want) > 1e-9 || left != reach-lead {
		t.Errorf("%g days, by hand %g; %g left", reach, want, left)
	}
}

// read sets to to a number of a text.
func read(t *testing.T, from numbers, name string, to *float64) {
	t.Helper()
	x, ok := from[name].(float64)
	if !ok {
		t.Fatalf("no number %s", name)
	}
	*to = x
}
