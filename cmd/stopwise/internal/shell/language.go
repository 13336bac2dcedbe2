package shell

import (
	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/words"
)

// Tongue is the two flags that choose the language of what a scout reads.
type Tongue struct {
	language, words *Option[string]
}

// TongueFlags returns the flags. What the program brings along is chosen by its
// code, any other language by its words file.
func TongueFlags() *Tongue {
	return &Tongue{LanguageFlag(), TextFlag("words", "`FILE` words of another language, as TOML; stopwise words prints one to change")}
}

// LanguageFlag chooses one of the languages that the program brings along.
func LanguageFlag() *Option[string] {
	return ChoiceFlag("language", "`CODE` language", words.Codes...).WithDefault(words.Codes[0])
}

// Flags returns the flags for a command.
func (t *Tongue) Flags() []cli.Flag { return []cli.Flag{t.language, t.words} }

// Chosen returns the language chosen. A words file must have every sentence.
func (t *Tongue) Chosen(e Env) (*words.Language, error) {
	if err := Exclusive(t.language, t.words); err != nil {
		return nil, err
	}
	if !t.words.Set {
		return words.Of(t.language.Value)
	}
	file := t.words.Value
	text, err := ReadInput(e, file)
	if err != nil {
		return nil, err
	}
	l, err := words.Read(text)
	if err != nil {
		return nil, InputError(file, err)
	}
	return l, nil
}
