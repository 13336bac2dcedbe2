package textsafe

import (
	"encoding/json"
	"encoding/xml"
	"io"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
)

func TestLine(t *testing.T) {
	for in, want := range map[string]string{
		"plain ≥ text": "plain ≥ text",
		"\x1b[31mred":  `\x1b[31mred`,
		"\u009b31m":    `\u009b31m`, // C1: the same as ESC [ to a terminal
		"a\u202eb":     `a\u202eb`,
		"a\u2066b":     `a\u2066b`,
		"a\nb\tc":      `a\nb\tc`,
		"bad \xff":     `bad \xff`,
		"שדה צפוני":    "שדה צפוני", // right to left by its letters, which is no trick
	} {
		if got := Line(in); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
	if got := Text("a\n\x1bb\n"); got != "a\n\\x1bb\n" {
		t.Errorf("%q", got)
	}
}

func TestName(t *testing.T) {
	for in, want := range map[string]string{
		"  North \t field ":          "North field",
		"Øst, \"hill\" & <b>":        "Øst, \"hill\" & <b>",
		strings.Repeat("é", MaxName): strings.Repeat("é", MaxName),
	} {
		if got, err := Name(in); got != want || err != nil {
			t.Errorf("%q: %q, %v", in, got, err)
		}
	}
	for in, want := range map[string]string{
		" \t ":                         "is empty",
		"North\x1b[2J":                 "control character",
		"North\u202efield":             "control character",
		"North\u0085":                  "control character",
		"a\x00b":                       "control character",
		"bad \xff":                     "is not UTF-8",
		strings.Repeat("é", MaxName+1): "has 201 characters; accepted: at most 200",
	} {
		_, err := Name(in)
		if err == nil || !strings.Contains(err.Error(), want) || len(err.Error()) > 300 || Line(err.Error()) != err.Error() {
			t.Errorf("%q: %v, want %q", in, err, want)
		}
	}
}

func TestCell(t *testing.T) {
	for in, want := range map[string]string{
		"=1+1": "'=1+1", "+A1": "'+A1", "-A1": "'-A1", "@x": "'@x", "-3.5": "-3.5", "+2": "+2", "North": "North", "": "", "\t=1": "'\t=1",
	} {
		if got := Cell(in); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
}

// Whatever a name is given as, it comes out as one that is shown as it is, and
// that readers of XML and JSON take.
func FuzzName(f *testing.F) {
	for _, s := range []string{"North", "\x1b]0;x\a", "a\u202eb", "\xff", "=1", strings.Repeat("x", 300), "\u0085", "\ufffe"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		shown := Line(s)
		if !utf8.ValidString(shown) || strings.IndexFunc(shown, Steers) >= 0 || Line(shown) != shown {
			t.Fatalf("%q is shown as %q", s, shown)
		}
		if text, err := json.Marshal(s); err == nil {
			var a, b string
			if json.Unmarshal(text, &a) != nil || json.Unmarshal(JSON(text), &b) != nil || a != b {
				t.Fatalf("%q: %q and %q", s, a, b)
			}
		}
		name, err := Name(s)
		if err != nil {
			if Line(err.Error()) != err.Error() {
				t.Fatalf("the message of %q: %q", s, err)
			}
			return
		}
		if again, err := Name(name); err != nil || again != name || Line(name) != name || utf8.RuneCountInString(name) > MaxName {
			t.Fatalf("%q: %q, %v", s, again, err)
		}
		var b strings.Builder
		if err := xml.EscapeText(&b, []byte(name)); err != nil {
			t.Fatal(err)
		}
		d := xml.NewDecoder(strings.NewReader("<t>" + b.String() + "</t>"))
		for {
			if _, err := d.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("%q: %v", name, err)
			}
		}
	})
}

func TestJSONMeansTheSame(t *testing.T) {
	text, _ := json.Marshal("a\u009bb\u202e\x7f\"\U000bffff")
	var got string
	out := JSON(text)
	if err := json.Unmarshal(out, &got); err != nil || cmp.Diff("a\u009bb\u202e\x7f\"\U000bffff", got) != "" || strings.IndexFunc(string(out), Steers) >= 0 {
		t.Errorf("%s, %v", out, err)
	}
}
