package shell

import (
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/words"
)

const (
	helpWidth  = 80
	flagColumn = 28 // where the explanations of flags begin
)

const appHelp = `{{.Name}} - {{.Usage}}

Usage: {{.Name}} COMMAND [arguments] [flags]
{{if .VisibleCommands}}
Commands:{{range .VisibleCommands}}
{{printf "  %-10s %s" .Name .Usage}}{{end}}
{{end}}
Flags:{{range .VisibleFlags}}
{{.}}{{end}}

Every command has its own help with an example: {{.Name}} COMMAND --help
`

const commandHelp = `{{.HelpName}} - {{.Usage}}

Usage: {{.HelpName}}{{if .VisibleCommands}} COMMAND [arguments]{{else if trim .ArgsUsage}} {{trim .ArgsUsage}}{{end}} [flags]
{{if .Description}}
{{described .Description}}
{{end}}{{if .VisibleCommands}}
Commands:{{range .VisibleCommands}}
{{printf "  %-11s %s" .Name .Usage}}{{end}}
{{end}}
Flags:{{range .VisibleFlags}}
{{.}}{{end}}
`

func init() {
	cli.FlagStringer = flagHelp
	// Only the help that is shown is wrapped.
	cli.HelpPrinter = func(w io.Writer, text string, data any) {
		cli.HelpPrinterCustom(w, text, data, map[string]any{"described": formatDescription})
	}
}

// formatDescription wraps the paragraphs of a description. Paragraphs that
// begin with a space or with "$ ", the mark of an example, stay as they are; "= NAME"
// stands for that sentence of the catalogue, which is read only then.
func formatDescription(s string) string {
	var out []string
	examples := strings.Count("\n"+s, "\n$ ")
	for p := range strings.SplitSeq(strings.Trim(s, "\n"), "\n\n") {
		switch {
		case strings.HasPrefix(p, "$ "):
			p = "  " + strings.ReplaceAll(p, "\n", "\n  ")
			switch {
			case examples == 1:
				p = "Example:\n" + p
			case examples > 1:
				p = "Examples:\n" + p
			}
			examples = 0 // one title is enough
			out = append(out, p)
		case strings.HasPrefix(p, " "):
			out = append(out, p)
		case strings.HasPrefix(p, "= "):
			out = append(out, formatDescription(words.English().Say(p[2:])))
		default:
			out = append(out, report.Wrap(p, helpWidth, ""))
		}
	}
	return strings.Join(out, "\n\n")
}

// flagHelp returns the help lines of a flag: its names, what it takes, what it
// means, and its default. What it takes is the word between backticks in its
// usage; at the start of the usage it is not a part of the sentence.
func flagHelp(f cli.Flag) string {
	d, ok := f.(cli.DocGenerationFlag)
	if !ok {
		return ""
	}
	takes, usage := placeholder(d.GetUsage())
	var names []string
	for _, n := range d.Names() {
		names = append(names, dashed(n))
	}
	head := strings.Join(names, ", ")
	if d.TakesValue() {
		head += " " + takes
		if text := d.GetDefaultText(); text != "" {
			usage += " (default: " + text + ")"
		}
	}
	indent := strings.Repeat(" ", flagColumn)
	body := strings.ReplaceAll(report.Wrap(usage, helpWidth-flagColumn, ""), "\n", "\n"+indent)
	head = "  " + head
	if len(head)+2 > flagColumn {
		return head + "\n" + indent + body
	}
	return head + indent[len(head):] + body
}

func placeholder(usage string) (name, rest string) {
	before, after, found := strings.Cut(usage, "`")
	name, tail, closed := strings.Cut(after, "`")
	switch {
	case !found || !closed:
		return "VALUE", usage
	case before == "":
		return name, strings.TrimSpace(tail)
	}
	return name, before + name + tail
}

// dashed returns a flag as it is written. Single letters have two dashes too,
// as in --k, but for the usual -h and -v.
func dashed(name string) string {
	if name == "h" || name == "v" {
		return "-" + name
	}
	return "--" + name
}
