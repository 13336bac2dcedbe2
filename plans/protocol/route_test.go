package protocol

import (
	"os"
	"strings"
	"testing"
)

func TestRoute(t *testing.T) {
	base, err := os.ReadFile("testdata/small.toml")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ add, kind, text, fault string }{
		{"", "", "", ""},
		{"[route]\nkind = \"balanced\"\ntext = \"from the gate to the far oak\"\n", "balanced", "from the gate to the far oak", ""},
		{"[route]\ntext = \"up and down\"\n", "", "up and down", ""},
		{"[route]\nkind = \"spiral\"\n", "", "", "\"spiral\" is not known; write balanced"},
		{"[route]\n", "", "", "says nothing"},
		{"[route]\nkind = \"w\"\nlegs = 3\n", "", "", "legs"},
	} {
		p, err := Read(append(append([]byte{}, base...), "\n"+c.add...))
		switch {
		case c.fault != "":
			if err == nil || !strings.Contains(err.Error(), c.fault) {
				t.Errorf("%q: %v", c.add, err)
			}
		case err != nil:
			t.Errorf("%q: %v", c.add, err)
		case c.add == "":
			if p.Route != nil {
				t.Errorf("a route from nowhere: %+v", p.Route)
			}
		case p.Route == nil || *p.Route != Route{c.kind, c.text}:
			t.Errorf("%q: %+v", c.add, p.Route)
		}
	}
}
