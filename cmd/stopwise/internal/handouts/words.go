package handouts

import (
	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/cmd/stopwise/internal/words"
)

// WordsCommand prints the sentences of a language, to be changed into another's.
func WordsCommand(e shell.Env) *cli.Command {
	language := shell.LanguageFlag()
	return &cli.Command{
		Name:      "words",
		Usage:     "print the sentences of card, bulletin and walk, to put them into another language",
		ArgsUsage: " ",
		Description: `Prints every sentence that the card, its paper, the bulletin and the walk say, as a TOML file. Change tag to that of your language (BCP 47, such as pt or sw), direction to rtl where it is written from right to left, then the sentences; what stands in {{...}} stays. Give each count the plural forms of the language (zero, one, two, few, many, other). The commands take it with --words, and name whatever it lacks.

$ stopwise words --language es > mine.toml
$ stopwise card plan.json --words mine.toml --out card.html`,
		Flags: []cli.Flag{language},
		Action: func(c *cli.Context) error {
			if c.NArg() != 0 {
				return shell.UsageHint("see stopwise words --help", "words takes no arguments")
			}
			text, err := words.File(language.Value)
			if err != nil {
				return err
			}
			_, err = e.Out.Write(text)
			return err
		},
	}
}
