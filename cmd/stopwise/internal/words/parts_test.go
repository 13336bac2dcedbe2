package words

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Read part by part, a file that comes along says what it says read at once; a
// sentence that is not there is nil, whatever its part.
func TestPartsMakeTheWhole(t *testing.T) {
	for _, code := range Codes {
		text, err := File(code)
		if err != nil {
			t.Fatal(err)
		}
		whole, err := Read(text)
		if err != nil {
			t.Fatalf("%s: %v", code, err)
		}
		one, err := Of(code)
		if err != nil {
			t.Fatalf("%s: %v", code, err)
		}
		if len(one.known) == len(whole.known) {
			t.Errorf("%s: all parts were read at once", code)
		}
		for id, m := range whole.known {
			if got := one.message(id); !cmp.Equal(got, m) {
				t.Errorf("%s: %s: %s", code, id, cmp.Diff(m, got))
			}
		}
		all, err := Of(code)
		if err != nil {
			t.Fatalf("%s: %v", code, err)
		}
		if diff := cmp.Diff(whole.known, all.messages()); diff != "" {
			t.Errorf("%s: %s", code, diff)
		}
		if one.message("walk.nobody_says_this") != nil || one.message("none") != nil {
			t.Errorf("%s has a sentence that is in no file", code)
		}
	}
}
