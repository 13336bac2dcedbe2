package validate

import (
	"bytes"
	"encoding/csv"
	"flag"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
)

var update = flag.Bool("update", false, "rewrite the invented validation fields")

const valeFile = "../testdata/marrow-vale/fields.csv"

// The fields of the made-up Marrow Vale that no constant was fitted to.
var valeFields = []struct {
	name, date string
	pattern    Pattern
}{
	{"Tansy Bank 1", "2026-05-26", HotSpots},
	{"Cold Elbow 2", "2026-05-26", Uniform},
	{"Six Gates 1", "2026-05-26", Edge},
	{"Dry Ladle 3", "2026-05-27", HotSpots},
	{"Hazel Lane 2", "2026-05-27", Gradient},
	{"Pipit End 1", "2026-05-27", HotSpots},
	{"Ferret Hole 4", "2026-05-28", Uniform},
	{"Long Nibs 1", "2026-05-28", HotSpots},
	{"Wether Down 5", "2026-05-28", Edge},
	{"Crook Acre 2", "2026-05-29", Gradient},
}

// inventFields makes 10 fields of 18 stops of 15 plants, at places drawn at
// random. Shares infested go from 3% to 39% in even steps, in no order, and rho
// is 0.12.
func inventFields(t *testing.T) [][]string {
	t.Helper()
	r := rand.New(rand.NewPCG(4108, 1))
	rows := [][]string{{"field", "stop", "plants", "infested", "date", "x", "y"}}
	order := r.Perm(len(valeFields))
	for i, v := range valeFields {
		f := MakeField(DefaultGround, v.pattern, 0.03+0.04*float64(order[i]), 0.12, r)
		w, err := NewWalk(Random, DefaultGround, Spacing{}, r)
		if err != nil {
			t.Fatal(err)
		}
		for j := range 18 {
			at := w.Next()
			x, y := math.Round(at.X), math.Round(at.Y)
			rows = append(rows, []string{v.name, strconv.Itoa(j + 1), "15", strconv.Itoa(f.Count(r, x, y, 15)), v.date,
				strconv.FormatFloat(x, 'f', 0, 64), strconv.FormatFloat(y, 'f', 0, 64)})
		}
	}
	return rows
}

// TestInventedFields holds the shipped fields to their generator. With -update it
// writes them.
func TestInventedFields(t *testing.T) {
	var b bytes.Buffer
	if err := csv.NewWriter(&b).WriteAll(inventFields(t)); err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile(valeFile, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(valeFile)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(b.Bytes(), want) {
		t.Error("fields.csv is not what the generator makes; run with -update")
	}
}
