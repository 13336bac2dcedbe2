// Package words holds every sentence of the card, the paper, the bulletin and the
// walk, once, in each language that the program speaks; English goes through it
// like the others. A language is a TOML file of sentences with placeholders and
// plural forms, in languages or of a user's own.
//
// For most uses, take a language by [Of] or [Read] and ask it to [Language.Say] a
// sentence, to [Language.Count] things, or to write a [Language.Number].
package words

import (
	"embed"
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/nicksnyder/go-i18n/v2/i18n"
	"golang.org/x/text/language"
)

//go:embed languages/*.toml
var texts embed.FS

// Codes are the languages that the program brings along.
var Codes = []string{"en", "es", "fr"}

// A Language says the sentences of the catalogue. It may be used from several
// goroutines at once.
type Language struct {
	tag language.Tag

	mu     sync.Mutex // guards what follows
	bundle *i18n.Bundle
	say    *i18n.Localizer
	known  map[string]*i18n.Message
	unread map[string][]byte // parts of a file that the program brings along, until a sentence of theirs is asked for
}

var (
	readEnglish sync.Once
	english     *Language
)

// English returns the language in which the catalogue is written first.
func English() *Language {
	readEnglish.Do(func() {
		var err error
		if english, err = Of("en"); err != nil {
			panic(err) // a test reads every file that the program brings along
		}
	})
	return english
}

// Of returns a language that the program brings along. A test holds those to what
// [Read] asks of a file, so that here only the parts that are needed are read.
func Of(code string) (*Language, error) {
	text, err := File(code)
	if err != nil {
		return nil, err
	}
	return inParts(text)
}

// File returns the words file of a language that the program brings along.
func File(code string) ([]byte, error) {
	if !slices.Contains(Codes, code) {
		last := len(Codes) - 1
		return nil, fmt.Errorf("%q is not known; write %s or %s", code, strings.Join(Codes[:last], ", "), Codes[last])
	}
	return texts.ReadFile("languages/" + code + ".toml")
}

// Tag returns the language's name by BCP 47, such as "es".
func (l *Language) Tag() string { return l.tag.String() }

// RightToLeft reports whether the language is written from right to left.
func (l *Language) RightToLeft() bool { return l.Say("language.direction") == "rtl" }

// Direction returns "ltr" or "rtl".
func (l *Language) Direction() string { return l.Say("language.direction") }

// Say returns a sentence, with a name and a value for each of its placeholders.
func (l *Language) Say(id string, with ...any) string { return l.localize(id, nil, with) }

// Count returns a number of things, such as "1 stop" or "12 stops", by the plural
// form that the language has for the number.
func (l *Language) Count(id string, n int, with ...any) string {
	return l.localize(id, n, append([]any{"N", l.Whole(n)}, with...))
}

// CountOf is the same for a number with decimals as package report wrote it.
func (l *Language) CountOf(id, number string, with ...any) string {
	return l.localize(id, number, append([]any{"N", l.Number(number)}, with...))
}

// localize falls back to the name of a sentence that is not there, which a test
// finds before a user does.
func (l *Language) localize(id string, count any, with []any) string {
	data := make(map[string]any, len(with)/2)
	for i := 0; i+1 < len(with); i += 2 {
		data[fmt.Sprint(with[i])] = with[i+1]
	}
	m := l.message(id)
	if m == nil {
		return id
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	text, _ := l.say.Localize(&i18n.LocalizeConfig{MessageID: id, TemplateData: data, PluralCount: count})
	return text
}
