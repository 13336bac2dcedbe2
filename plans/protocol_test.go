package plans

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// protocolText returns a protocol of package protocol's tests.
func protocolText(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("protocol", "testdata", name+".toml"))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestPlanOfFullProtocol(t *testing.T) {
	p, err := ReadProtocol(protocolText(t, "full"))
	if err != nil {
		t.Fatal(err)
	}
	plan := linesPlan(t, p)
	leafing, ripening := plan.Stages[0], plan.Stages[1]
	if leafing.Table.Units != 10 || leafing.Plants() != 5 || ripening.Table.Units != 5 {
		t.Errorf("units %d and %d", leafing.Table.Units, ripening.Table.Units)
	}
	// The lines take the k at the clumped end of the range.
	lines, err := CountLines(2, 4, 0.8, 0.125, 0.07)
	if err != nil {
		t.Fatal(err)
	}
	if *leafing.Lines != lines || !leafing.Table.Equal(lines.Table(10, 3, 12, false)) {
		t.Errorf("lines %+v, want %+v", *leafing.Lines, lines)
	}
	if len(leafing.Risks) != clumpGrid || leafing.Risks[0].Clump.Value != 1.6 || leafing.Risks[clumpGrid-1].Clump.Value != 0.8 || len(ripening.Risks) != 1 {
		t.Errorf("risks %+v, %+v", leafing.Risks, ripening.Risks)
	}
}

func TestDesignRefuses(t *testing.T) {
	p := shippedProtocol(t)
	p = p.Each(func(s *Stage) { s.Stop.Plants = 0 })
	p.Stages[0].Upper = math.NaN()
	_, err := designLines(p)
	want := "plants per stop is 0; accepted: a whole number from 1 to 10000\nupper is NaN; accepted: a share above 0% and below 100%"
	var field *FieldError
	if got := fmt.Sprint(err); got != want || !errors.As(err, &field) || field.Path != "stop.plants" {
		t.Errorf("got %s", got)
	}
}
