// Package textsafe keeps foreign text from doing more than being read: control
// characters steer a terminal, and those that turn the direction of writing make
// a name look like another one.
//
// For most uses, take a name that somebody gave through [Name], and show text of
// unknown origin through [Line], or through [Text] where it has several lines.
package textsafe

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"
)

// MaxName is the largest length of a name, in characters.
const MaxName = 200

// Steers reports whether a character is not seen but acts on what is: a control
// character (C0, C1 and delete), one that turns the direction of writing, a line
// or paragraph separator, a byte order mark, or one that is no character at all
// (U+FFFE, U+FFFF and their like), which XML forbids.
//
// Directions: Unicode Standard Annex 9, section 2.
func Steers(r rune) bool {
	switch {
	case unicode.IsControl(r):
		return true
	case r == 0x061C, r == 0x200E, r == 0x200F, r >= 0x202A && r <= 0x202E, r >= 0x2066 && r <= 0x2069:
		return true
	case r == 0x2028, r == 0x2029, r == 0xFEFF, r&0xFFFE == 0xFFFE:
		return true
	}
	return false
}

// Line returns text with a mark such as \x1b or \u202e in place of every
// character that [Steers], ends of lines included, and in place of every byte
// that is not UTF-8.
func Line(s string) string { return marked(s, "") }

// Text is [Line] for text of several lines: it leaves their ends as they are.
func Text(s string) string { return marked(s, "\n") }

func marked(s, keep string) string {
	if clean(s, keep) {
		return s
	}
	var b strings.Builder
	for i, r := range s {
		_, size := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && size == 1:
			fmt.Fprintf(&b, `\x%02x`, s[i])
		case Steers(r) && !strings.ContainsRune(keep, r):
			b.WriteString(strings.Trim(strconv.QuoteRuneToASCII(r), "'"))
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

func clean(s, keep string) bool {
	return utf8.ValidString(s) && strings.IndexFunc(s, func(r rune) bool { return Steers(r) && !strings.ContainsRune(keep, r) }) < 0
}

// JSON returns a JSON text with the characters that [Steers] and that may stand
// in its strings unescaped written as escapes. It means the same.
func JSON(text []byte) []byte {
	s := string(text)
	special := func(r rune) bool { return r >= 0x7f && Steers(r) }
	if strings.IndexFunc(s, special) < 0 {
		return text
	}
	var b strings.Builder
	for _, r := range s {
		if special(r) {
			for _, half := range utf16.AppendRune(nil, r) { // above U+FFFF there are two (RFC 8259, 7)
				fmt.Fprintf(&b, `\u%04x`, half)
			}
			continue
		}
		b.WriteRune(r)
	}
	return []byte(b.String())
}

// Name returns a name with single spaces between its words and none around it.
// It refuses one that is empty, that is not UTF-8, that has more than [MaxName]
// characters, or that holds a character that [Steers], other than a space in the
// wide sense between words.
func Name(s string) (string, error) {
	if !utf8.ValidString(s) {
		return "", fmt.Errorf("%q is not UTF-8 text", Line(start(s)))
	}
	name := strings.Join(strings.Fields(strings.ReplaceAll(s, "\u0085", "\x00")), " ")
	n := utf8.RuneCountInString(name)
	switch i := strings.IndexFunc(name, Steers); {
	case i >= 0:
		return "", fmt.Errorf("%q holds a control character or one that turns the writing; accepted: letters, digits, signs and spaces", Line(start(s)))
	case n == 0:
		return "", fmt.Errorf("is empty; accepted: 1 to %d characters", MaxName)
	case n > MaxName:
		return "", fmt.Errorf("%q... has %d characters; accepted: at most %d", start(name), n, MaxName)
	}
	return name, nil
}

// start returns the beginning of a text, for a message.
func start(s string) string {
	const most = 40
	n := 0
	for i := range s {
		if n == most {
			return s[:i]
		}
		n++
	}
	return s
}

// Cell returns the cell of a table as text that a spreadsheet does not take for a
// formula: one that begins with = + - @, a tab or the end of a line gets an
// apostrophe before it. Numbers stay as they are.
func Cell(s string) string {
	if s == "" || !strings.ContainsRune("=+-@\t\r\n", rune(s[0])) {
		return s
	}
	if _, err := strconv.ParseFloat(s, 64); err == nil {
		return s
	}
	return "'" + s
}
