package words

import (
	"bytes"
	"maps"
	"strings"

	"github.com/nicksnyder/go-i18n/v2/i18n"
	"github.com/pelletier/go-toml/v2"
)

// Most commands say a few sentences, and reading the whole catalogue would be a
// quarter of their time: a file that the program brings along is read by its parts,
// each when a sentence of it is asked for.

// partOf returns the part of the catalogue that a sentence belongs to.
func partOf(id string) string {
	part, _, _ := strings.Cut(id, ".")
	return part
}

// inParts takes a file that the program brings along. A part begins at a line with
// its name in brackets; none of its sentences begins a line with a bracket.
func inParts(text []byte) (*Language, error) {
	unread := map[string][]byte{}
	for len(text) > 0 {
		end := len(text)
		if i := bytes.Index(text, []byte("\n[")); i >= 0 {
			end = i + 1
		}
		if name, _, headed := bytes.Cut(text[:end], []byte("]")); headed && name[0] == '[' {
			unread[string(name[1:])] = text[:end]
		}
		text = text[end:]
	}
	l, err := parse(unread["language"])
	if err != nil {
		return nil, err
	}
	delete(unread, "language")
	l.unread = unread
	return l, nil
}

// read reads a part that was not read yet; mu is held.
func (l *Language) read(part string) {
	text, there := l.unread[part]
	if !there {
		return
	}
	delete(l.unread, part)
	var whole map[string]any
	err := toml.Unmarshal(text, &whole)
	if err == nil {
		err = l.add(whole)
	}
	if err != nil {
		panic(err) // a test reads every part of what the program brings along
	}
}

// add adds the sentences of a document, or of a part of it, which was read already.
func (l *Language) add(whole map[string]any) error {
	messages, err := i18n.ParseMessageBytes([]byte("read"), func(_ []byte, v any) error {
		*v.(*any) = whole
		return nil
	})
	if err != nil {
		return err
	}
	for _, m := range messages {
		l.known[m.ID] = m
	}
	return l.bundle.AddMessages(l.tag, messages...)
}

// message returns a sentence, or nil where there is none of the name.
func (l *Language) message(id string) *i18n.Message {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.read(partOf(id))
	return l.known[id]
}

// messages returns all sentences by name.
func (l *Language) messages() map[string]*i18n.Message {
	l.mu.Lock()
	defer l.mu.Unlock()
	for part := range maps.Clone(l.unread) {
		l.read(part)
	}
	return maps.Clone(l.known)
}
