package words

import (
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"

	"github.com/nicksnyder/go-i18n/v2/i18n"
	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/language"

	"stopwise/plans/protocol"
)

// A FileError is a words file that cannot be used: what it lacks, what it has too
// many, and what is wrong.
type FileError struct {
	Missing, Unknown []string // names of sentences, in order
	Faults           []string
}

func (e *FileError) Error() string {
	var parts []string
	list := func(what string, names []string) {
		if len(names) > 0 {
			parts = append(parts, fmt.Sprintf("%s %s", what, strings.Join(names, ", ")))
		}
	}
	list("it lacks", wholeParts(e.Missing))
	list("it has what is not known:", e.Unknown)
	parts = append(parts, e.Faults...)
	return strings.Join(parts, "; ")
}

// wholeParts names a part of the catalogue once where all its sentences are missing.
func wholeParts(missing []string) []string {
	all, gone := map[string]int{}, map[string]int{}
	for id := range English().messages() {
		all[partOf(id)]++
	}
	for _, id := range missing {
		gone[partOf(id)]++
	}
	var out []string
	for _, id := range missing {
		if p := partOf(id); gone[p] == all[p] {
			id = "all of [" + p + "]"
		}
		if !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	return out
}

// Read reads a words file. Its errors are a [protocol.InputError], where it is no TOML, or a [FileError] with all that is missing: a language says every sentence itself.
func Read(text []byte) (*Language, error) {
	l, err := parse(text)
	if err != nil {
		return nil, err
	}
	if faults := l.against(English()); faults != nil {
		return nil, faults
	}
	return l, nil
}

func parse(text []byte) (*Language, error) {
	var whole map[string]any
	if err := toml.Unmarshal(text, &whole); err != nil {
		if d, ok := errors.AsType[*toml.DecodeError](err); ok {
			line, column := d.Position()
			return nil, &protocol.InputError{Line: line, Column: column, Message: strings.TrimPrefix(d.Error(), "toml: ")}
		}
		return nil, err
	}
	head, _ := whole["language"].(map[string]any)
	named, _ := head["tag"].(string)
	tag, err := language.Parse(named)
	if err != nil || tag == language.Und {
		return nil, &FileError{Faults: []string{fmt.Sprintf("tag %q in [language] names no language; write one such as pt or sw", named)}}
	}
	bundle := i18n.NewBundle(tag)
	l := &Language{tag: tag, bundle: bundle, say: i18n.NewLocalizer(bundle, tag.String()), known: map[string]*i18n.Message{}}
	if err := l.add(whole); err != nil {
		return nil, &FileError{Faults: []string{err.Error()}}
	}
	return l, nil
}

var placeholder = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\{\{\.([A-Z][A-Za-z]*)\}\}`) })

// mayBeLeftOut are placeholders that a language can do without: words that only
// serve its grammar, and an exact number of one or two things.
var mayBeLeftOut = []string{"One", "Many"}

// ownEndings names what a language may have besides: how it forms the plural of a
// protocol's word. That of English is a rule of package report.
const ownEndings = "unit.endings"

// against compares a language with the one that has every sentence.
func (l *Language) against(whole *Language) error {
	e, needed := &FileError{}, l.forms()
	mine, wanted := l.messages(), whole.messages()
	for _, id := range slices.Sorted(maps.Keys(wanted)) {
		m, there := mine[id]
		if !there {
			e.Missing = append(e.Missing, id)
			continue
		}
		e.Faults = append(e.Faults, faultsOf(m, wanted[id], needed)...)
	}
	for _, id := range slices.Sorted(maps.Keys(mine)) {
		if wanted[id] == nil && id != ownEndings {
			e.Unknown = append(e.Unknown, id)
		}
	}
	if d := mine["language.direction"]; d != nil && d.Other != "ltr" && d.Other != "rtl" {
		e.Faults = append(e.Faults, fmt.Sprintf("direction %q in [language] is neither ltr nor rtl", d.Other))
	}
	if len(e.Missing)+len(e.Unknown)+len(e.Faults) == 0 {
		return nil
	}
	return e
}

// faultsOf returns what is wrong with a sentence that stands for another; needed are
// the plural forms of its language.
func faultsOf(m, whole *i18n.Message, needed []string) (faults []string) {
	fault := func(format string, args ...any) { faults = append(faults, m.ID+": "+fmt.Sprintf(format, args...)) }
	known := names(whole)
	have := forms(m)
	if counted(whole) {
		for _, form := range needed {
			if have[form] == "" {
				fault("lacks the plural form %s of its language", form)
			}
		}
	} else if counted(m) {
		fault("has plural forms where there is nothing to count")
	}
	for _, form := range slices.Sorted(maps.Keys(have)) {
		text := have[form]
		if rest := placeholder().ReplaceAllString(text, ""); strings.Contains(rest, "{{") || strings.Contains(rest, "}}") {
			fault("%q is not a plain placeholder such as {{.N}}", text)
		}
		these := placeholders(text)
		for _, p := range these {
			if !slices.Contains(known, p) {
				fault("there is no {{.%s}} for it", p)
			}
		}
		for _, p := range known {
			// "one stop" may be said without its number, many stops may not.
			spoken := form != "other" && p == "N"
			if !slices.Contains(these, p) && !slices.Contains(mayBeLeftOut, p) && !spoken {
				fault("{{.%s}} is missing", p)
			}
		}
	}
	if have["other"] == "" {
		fault("is empty")
	}
	if strings.HasPrefix(whole.Other, "{{.Head}}") && !strings.HasPrefix(m.Other, "{{.Head}}") {
		fault("must begin with {{.Head}}, which the card shows large")
	}
	return faults
}

// names returns the placeholders of all forms of a message.
func names(m *i18n.Message) []string {
	return placeholders(strings.Join(slices.Collect(maps.Values(forms(m))), ""))
}

func placeholders(text string) []string {
	var out []string
	for _, m := range placeholder().FindAllStringSubmatch(text, -1) {
		if !slices.Contains(out, m[1]) {
			out = append(out, m[1])
		}
	}
	slices.Sort(out)
	return out
}

// counted reports whether a message has plural forms.
func counted(m *i18n.Message) bool {
	f := forms(m)
	delete(f, "other")
	return len(f) > 0
}

// forms returns the plural forms that a message has, by name.
func forms(m *i18n.Message) map[string]string {
	out := map[string]string{}
	for name, text := range map[string]string{"zero": m.Zero, "one": m.One, "two": m.Two, "few": m.Few, "many": m.Many, "other": m.Other} {
		if text != "" {
			out[name] = text
		}
	}
	return out
}

// probe is a message whose text names its plural form.
var probe = &i18n.Message{ID: "probe", Zero: "zero", One: "one", Two: "two", Few: "few", Many: "many", Other: "other"}

// forms returns the plural forms that whole numbers below a thousand have in the
// language, by the rules that choose among its sentences.
func (l *Language) forms() []string {
	seen := map[string]bool{"other": true}
	for n := range 1000 {
		form, err := l.say.Localize(&i18n.LocalizeConfig{DefaultMessage: probe, PluralCount: n})
		if err == nil {
			seen[form] = true
		}
	}
	return slices.Sorted(maps.Keys(seen))
}
