package words_test

import (
	"errors"
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"
	"pgregory.net/rapid"

	"stopwise/cmd/stopwise/internal/words"
	"stopwise/cmd/stopwise/internal/words/wordstest"
	"stopwise/plans"
	"stopwise/plans/protocol"
)

func of(t *testing.T, code string) *words.Language {
	t.Helper()
	l, err := words.Of(code)
	if err != nil {
		t.Fatalf("%s: %v", code, err)
	}
	return l
}

// Every language that comes along has every sentence, none besides, each with its
// placeholders and the plural forms of its language.
func TestLanguagesAreWhole(t *testing.T) {
	for _, code := range words.Codes {
		text, err := words.File(code)
		if err != nil {
			t.Fatal(err)
		}
		l, err := words.Read(text)
		if err != nil {
			t.Fatalf("%s: %v", code, err)
		}
		if l.Tag() != code {
			t.Errorf("%s is tagged %s", code, l.Tag())
		}
	}
}

// Languages that come along share no sentence of some length: what was not put into
// the language would stand there in English.
func TestNothingIsLeftInEnglish(t *testing.T) {
	english := of(t, "en").Forms("verdict", "next", "scout", "back", "card", "paper", "walk", "why", "promise", "bulletin", "tables", "where", "season", "granted")
	for _, code := range words.Codes[1:] {
		for id, text := range of(t, code).Forms("verdict", "next", "scout", "back", "card", "paper", "walk", "why", "promise", "bulletin", "tables", "where", "season", "granted") {
			s, isText := text.(string)
			if isText && s == english[id] && len(regexp.MustCompile(`\{\{.*?\}\}`).ReplaceAllString(s, "")) > 10 {
				t.Errorf("%s: %s is %q", code, id, s)
			}
		}
	}
}

// The faults of a words file are named, all at once.
func TestFaultsAreNamed(t *testing.T) {
	file, err := words.File("es")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ old, now, want string }{
		{`undo = "Deshacer"`, ``, "it lacks card.undo"},
		{`undo = "Deshacer"`, `undo = ""`, "card.undo: is empty"},
		{`undo = "Deshacer"`, "undo = \"Deshacer\"\nredo = \"Rehacer\"", "it has what is not known: card.redo"},
		{`undo = "Deshacer"`, `undo = "Deshacer {{.N}}"`, "card.undo: there is no {{.N}} for it"},
		{`undo = "Deshacer"`, `undo = "Deshacer {{if .N}}"`, "is not a plain placeholder"},
		{`correct_stop = "Corregir la parada {{.Stop}}"`, `correct_stop = "Corregir la parada"`, "card.correct_stop: {{.Stop}} is missing"},
		{`one = "{{.N}} parada", `, ``, "count.stops: lacks the plural form one"},
		{`one = "{{.N}} parada", other = "{{.N}} paradas"`, `one = "una parada", other = "paradas"`, "count.stops: {{.N}} is missing"},
		{`direction = "ltr"`, `direction = "down"`, `direction "down" in [language] is neither ltr nor rtl`},
		{`tag = "es"`, `tag = "Spanish!"`, "names no language"},
		{`act = "{{.Head}}, el umbral`, `act = "El {{.Head}}, el umbral`, "verdict.act: must begin with {{.Head}}"},
		{`undo = "Deshacer"`, `undo = {one = "Deshacer", other = "Deshacer"}`, "card.undo: has plural forms where there is nothing to count"},
	} {
		text := strings.Replace(string(file), c.old, c.now, 1)
		if text == string(file) {
			t.Fatalf("%s is not in the file", c.old)
		}
		_, err := words.Read([]byte(text))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s -> %s: %v, want %s", c.old, c.now, err, c.want)
		}
	}
	if _, err := words.Read([]byte(strings.Replace(string(file), "[card]", "", 1))); err == nil {
		t.Error("a file without a part is taken")
	}
	_, err = words.Read([]byte("[language]\ntag = \"pt\"\nundo"))
	if wrong, ok := errors.AsType[*protocol.InputError](err); !ok {
		t.Errorf("no TOML: %v", err)
	} else if line, column := wrong.Position(); line != 3 || column < 1 {
		t.Errorf("no TOML: line %d, column %d", line, column)
	}
	if _, err := words.Of("de"); err == nil || err.Error() != `"de" is not known; write en, es or fr` {
		t.Errorf("an unknown language: %v", err)
	}
}

// The marks of numbers are those of CLDR, as golang.org/x/text/number has them; for
// Spanish that takes a point between thousands, for which the files have the space
// of the Real Academia, and no mark in four digits.
func TestMarksOfNumbers(t *testing.T) {
	for _, code := range words.Codes {
		p, l := message.NewPrinter(language.MustParse(code)), of(t, code)
		if got, want := l.Number("14.9"), p.Sprint(number.Decimal(14.9)); got != want {
			t.Errorf("%s: %q, want %q", code, got, want)
		}
		if got, want := l.Number("14.9%"), p.Sprint(number.Percent(.149, number.MaxFractionDigits(1))); got != want {
			t.Errorf("%s: %q, want %q", code, got, want)
		}
		if got, want := l.Whole(1234567), p.Sprint(number.Decimal(1234567)); code != "es" && got != want {
			t.Errorf("%s: %q, want %q", code, got, want)
		}
	}
	for code, want := range map[string]string{"en": "<0.01%", "es": "<0,01\u00a0%", "fr": "<0,01\u00a0%"} {
		if got := of(t, code).Number("<0.01%"); got != want {
			t.Errorf("%s: %q, want %q", code, got, want)
		}
	}
	for code, want := range map[string]string{"en": "2026-07-01", "es": "01/07/2026", "fr": "01/07/2026"} {
		if got := of(t, code).Date("2026-07-01"); got != want {
			t.Errorf("%s: %q, want %q", code, got, want)
		}
	}
}

// Numbers survive in every sentence of every language: each value given stands in
// the text, whatever the language makes of the order.
func TestValuesSurvive(t *testing.T) {
	placeholder := regexp.MustCompile(`\{\{\.([A-Za-z]+)\}\}`)
	made, err := words.Read(wordstest.Made("he", "rtl", "מלה", "one", "two", "other"))
	if err != nil {
		t.Fatal(err)
	}
	languages := []*words.Language{made}
	for _, code := range words.Codes {
		languages = append(languages, of(t, code))
	}
	english := of(t, "en").Forms(parts...)
	for _, l := range languages {
		for id, form := range l.Forms(parts...) {
			_, counted := form.(map[string]string)
			all := ""
			if text, ok := english[id].(string); ok {
				all = text
			} else {
				all = english[id].(map[string]string)["other"]
			}
			var with []any
			var values []string
			for i, m := range placeholder.FindAllStringSubmatch(all, -1) {
				if m[1] == "N" && counted || slices.Contains(with, any(m[1])) {
					continue
				}
				value := "‹" + string(rune('0'+i)) + "7›"
				with = append(with, m[1], value)
				if m[1] != "One" && m[1] != "Many" {
					values = append(values, value)
				}
			}
			text := l.Say(id, with...)
			if counted {
				text = l.Count(id, 4321, with...)
				values = append(values, l.Whole(4321))
			}
			for _, v := range values {
				if !strings.Contains(text, v) {
					t.Errorf("%s, %s: %q lacks %s", l.Tag(), id, text, v)
				}
			}
			if strings.Contains(text, "{{") || strings.Contains(text, "<no value>") {
				t.Errorf("%s, %s: %q", l.Tag(), id, text)
			}
		}
	}
}

var parts = []string{"count", "unit", "sign", "verdict", "worth", "next", "scout", "where", "back", "card", "paper", "tables", "walk", "why", "promise", "clumping", "granted", "slack", "season", "bulletin"}

// Plural forms are those of CLDR, as golang.org/x/text/feature/plural has them: the
// sentences of a made language begin with the name of their form.
func TestPluralForms(t *testing.T) {
	names := map[plural.Form]string{plural.Zero: "zero", plural.One: "one", plural.Two: "two", plural.Few: "few", plural.Many: "many", plural.Other: "other"}
	for tag, forms := range map[string][]string{
		"ar": {"zero", "one", "two", "few", "many", "other"}, "pl": {"one", "few", "many", "other"}, "cy": {"zero", "one", "two", "few", "many", "other"}, "ja": {"other"}, "sw": {"one", "other"},
	} {
		l, err := words.Read(wordstest.Made(tag, "ltr", "x", forms...))
		if err != nil {
			t.Fatal(err)
		}
		rapid.Check(t, func(r *rapid.T) {
			n := rapid.IntRange(0, 2000).Draw(r, "n")
			want := names[plural.Cardinal.MatchPlural(language.MustParse(tag), n, 0, 0, 0, 0)]
			if got, _, _ := strings.Cut(l.Count("count.stops", n), " "); got != want {
				r.Errorf("%s: %d has the form %s, want %s", tag, n, got, want)
			}
		})
	}
}

// A protocol's own word stays as it is, and takes the plural of its language. The
// plurals are from memory.
func TestOwnWords(t *testing.T) {
	for code, plurals := range map[string]map[string]string{
		"en": {"stem": "stems", "leaf": "leaves"},
		"es": {"tallo": "tallos", "árbol": "árboles", "raíz": "raíces", "botón": "botones", "hoja": "hojas"},
		"fr": {"tige": "tiges", "rameau": "rameaux", "noix": "noix", "fruit": "fruits"},
	} {
		l := of(t, code)
		for one, many := range plurals {
			s := plans.Stage{Unit: plans.SampleUnit{Word: one}}
			if gotOne, gotMany := l.UnitWords(s); gotOne != one || gotMany != many {
				t.Errorf("%s: %s, %s, want %s, %s", code, gotOne, gotMany, one, many)
			}
			if got := l.Units(s, 3); got != "3 "+many {
				t.Errorf("%s: %s", code, got)
			}
		}
	}
}

func FuzzRead(f *testing.F) {
	text, err := words.File("fr")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte("[language]\ntag = \"pt\"\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		if l, err := words.Read(text); err == nil && l.Say("card.undo") == "" {
			t.Error("a language without a word")
		}
	})
}
