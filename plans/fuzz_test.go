package plans

import (
	"math"
	"stopwise/plans/internal/planfile"
	"strings"
	"testing"
)

// small reports whether a protocol's plan is quickly made.
func small(p Protocol) bool {
	stop := p.Stages[0].Stop.Plants * p.Stages[0].Unit.Leaves
	if stop > 60 || p.Stages[0].Stop.Maximum > 12 || len(p.Stages) > 3 {
		return false
	}
	for _, s := range p.Stages {
		if s.Measure == MeanPerLeaf && s.Upper*float64(stop*p.Stages[0].Stop.Maximum) > 3000 {
			return false
		}
	}
	return true
}

// Whatever is read, no panic; a protocol that is accepted gives a plan or an
// error, and a plan keeps its own laws.
func FuzzReadProtocol(f *testing.F) {
	f.Add([]byte(shippedText(f)))
	f.Add(protocolText(f, "full"))
	f.Add(protocolText(f, "small"))
	f.Add([]byte(strings.Replace(string(protocolText(f, "small")), "taylor = [3.2, 1.5]", "k = 1e-9", 1)))
	f.Add([]byte("stop = {plants = 0}\n[[stage]]\nname = 'a'\n[clumping]\nrho = '0..1'"))
	f.Add([]byte("\ufefftitle = \"\"\"\nx\"\"\"\n[[stage]]\r\n\"na.me\".b = 1_000"))
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := ReadProtocol(text)
		if err != nil {
			if strings.TrimSpace(err.Error()) == "" {
				t.Error("empty message")
			}
			return
		}
		checkPlan(t, p)
	})
}

// No bytes bring a panic, also with a checksum that fits, and a plan that is read
// answers.
func FuzzReadPlan(f *testing.F) {
	for _, plan := range []*Plan{mixedPlan(f), poissonPlan(f), linesPlan(f, shippedProtocol(f))} {
		f.Add(planText(f, plan))
	}
	f.Add([]byte(`{"kind": "stopwise plan", "version": 2}`))
	f.Add([]byte(`{"kind": "stopwise plan", "version": 2, "stages": [null, {"rows": [{"leave": -1, "act": 0}]}]} {}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		if plan, err := ReadPlan(text); err == nil {
			if _, err := plan.Stages[0].Check([]Count{{Total: 1}}); err != nil {
				t.Fatal(err)
			}
		}
		file, _, err := decodePlan(text)
		if err != nil {
			return
		}
		fitting, err := planfile.Seal(&file, &file.Checksum)
		if err != nil {
			return
		}
		plan, err := ReadPlan(fitting)
		if err != nil || !small(plan.Protocol) {
			return
		}
		for _, s := range plan.Stages {
			if s.Table.Act[s.Table.Stops()-1] > 3000 {
				continue
			}
			if _, err := s.Check([]Count{{Total: 1, Plants: 1}}); err != nil {
				t.Fatal(err)
			}
			s.Rows()
		}
	})
}

func FuzzParseCount(f *testing.F) {
	for _, s := range []string{"3", "2/18", "-1", "1/0", "9999999999999", "+3/+4", " 1 / 2 ", "١"} {
		f.Add(s)
	}
	s := shareStage(workedTable(f, 2), 0.15, 0.30, Range{Low: 0, High: 0.1})
	f.Fuzz(func(t *testing.T, text string) {
		c, err := ParseCount(text)
		if err != nil {
			return
		}
		if c.Total < 0 || c.Plants < 0 || c.Total > math.MaxInt32 || c.Plants > math.MaxInt32 {
			t.Fatalf("%q: %+v", text, c)
		}
		if strings.Contains(text, "/") != (c.Plants > 0) {
			t.Fatalf("%q: %+v", text, c)
		}
		if a, err := s.Check([]Count{c}); err == nil && (a.Estimate < 0 || a.Estimate > 1) {
			t.Fatalf("%q: %+v", text, a)
		}
	})
}

func FuzzParseShare(f *testing.F) {
	for _, s := range []string{"25%", "0.25", "25", "-0", "1e308%", "0x1p-2%", "nan", "1_0%", "٣%", "1e-400"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if p, err := ParseShare(text); err == nil && !(p >= 0 && p <= 1) {
			t.Fatalf("%q: %g", text, p)
		}
	})
}

func FuzzParseRange(f *testing.F) {
	for _, s := range []string{"0.1", "0.05..0.15", "..", "1...2", "-1..-0", "1e309", "0x1p-2..1", "nan..1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		r, err := ParseRange(text)
		if err != nil {
			return
		}
		if !(r.Low <= r.High) || math.IsInf(r.Low, 0) || math.IsInf(r.High, 0) {
			t.Fatalf("%q: %+v", text, r)
		}
		if back, err := ParseRange(r.String()); err != nil || back != r {
			t.Fatalf("%q: %v reads back as %v, %v", text, r, back, err)
		}
		for _, x := range r.Grid(5) {
			if !(x >= r.Low && x <= r.High) && !math.IsInf(r.High-r.Low, 1) {
				t.Fatalf("%q: %g is not in the range", text, x)
			}
		}
	})
}
