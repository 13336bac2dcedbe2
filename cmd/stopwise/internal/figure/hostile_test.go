package figure

import (
	"strings"
	"testing"
)

// A name may hold anything: the picture stays one that readers of XML open
// (structure fails on any other), and shows what was there.
func TestHostileNames(t *testing.T) {
	for _, name := range []string{"a\x1b[31mb", "a\x00b", "a\u009bb", "a\u202eb", "a\ufffeb", "</text>&\"<", "bad \xff", "]]>"} {
		f := Fitted{Title: name, Note: name, Desc: name, SpreadHead: name, SpreadLabel: name, Spread: []XY{{1, 2}, {2, 4}}}
		p, err := f.Picture()
		if err != nil {
			t.Fatalf("%q: %v", name, err)
		}
		text, err := Render(p, SVG)
		if err != nil {
			t.Fatalf("%q: %v", name, err)
		}
		structure(t, text)
		if name[0] == 'a' && !strings.Contains(string(text), `a\`) {
			t.Errorf("%q is not shown as a mark", name)
		}
	}
}
