package shell

import (
	"bufio"
	"errors"
	"io"
	"os"
	"stopwise/plans"

	"github.com/peterh/liner"
	"golang.org/x/term"
)

// Lines is where a session reads answers from.
type Lines interface {
	// Read returns the next line; the prompt is for people only. After the last
	// line the error is io.EOF.
	Read(prompt string) (string, error)
	// Wrong says that the last line cannot be taken. Its error ends the session.
	Wrong(message string) error
	// Asks reports whether there is somebody to ask.
	Asks() bool
}

// NewLines reads from a terminal with prompts and line editing, and quietly from
// anything else. done gives the terminal back.
func NewLines(e Env) (in Lines, done func()) {
	out, hasFd := e.Out.(interface{ Fd() uintptr })
	if e.In == os.Stdin && hasFd && term.IsTerminal(int(os.Stdin.Fd())) && term.IsTerminal(int(out.Fd())) && os.Getenv("TERM") != "dumb" {
		l := liner.NewLiner()
		l.SetCtrlCAborts(true)
		return &typedLines{l, e.Err}, func() { l.Close() }
	}
	return &pipedLines{scanner: bufio.NewScanner(e.In)}, func() {}
}

type typedLines struct {
	l   *liner.State
	err io.Writer
}

func (t *typedLines) Read(prompt string) (string, error) {
	s, err := t.l.Prompt(prompt)
	if errors.Is(err, liner.ErrPromptAborted) {
		return "", io.EOF // an interrupt ends the session; all is recorded
	}
	if err == nil && s != "" {
		t.l.AppendHistory(s)
	}
	return s, err
}

func (t *typedLines) Asks() bool { return true }

func (t *typedLines) Wrong(message string) error {
	printMessage(t.err, message)
	return nil
}

// pipedLines ends the session at the first line that cannot be taken: what comes
// after it was meant for other stops.
type pipedLines struct {
	scanner *bufio.Scanner
	line    int
}

func (p *pipedLines) Read(string) (string, error) {
	if p.scanner.Scan() {
		p.line++
		return p.scanner.Text(), nil
	}
	if err := p.scanner.Err(); err != nil {
		return "", err
	}
	return "", io.EOF
}

func (p *pipedLines) Asks() bool { return false }

func (p *pipedLines) Wrong(message string) error {
	return InputError("-", &plans.InputError{Line: p.line, Message: message + "; what stands before is recorded"})
}
