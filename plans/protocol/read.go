package protocol

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// Read reads a protocol written in TOML. It is strict: a key it does not
// know is an error. All faults are reported at once, as InputErrors joined and
// in the order of their lines. [Protocol.Check] asks for more: how alike the counts of a
// stop are, where means are planned for.
func Read(text []byte) (Protocol, error) {
	text = bytes.TrimPrefix(text, []byte("\ufeff")) // some editors put a byte order mark there
	doc := map[string]any{}
	if err := toml.Unmarshal(text, &doc); err != nil {
		return Protocol{}, syntaxError(err)
	}
	r := &reader{lines: keyLines(text)}
	p := r.protocol(doc)
	if len(r.errs) == 0 {
		r.faults(slices.DeleteFunc(p.faults(), func(f fault) bool { return f.later }))
	}
	if len(r.errs) > 0 {
		slices.SortStableFunc(r.errs, func(a, b *InputError) int { return cmp.Compare(a.Line, b.Line) })
		errs := make([]error, len(r.errs))
		for i, e := range r.errs {
			errs[i] = e
		}
		return Protocol{}, errors.Join(errs...)
	}
	return p, nil
}

// syntaxError rewords the commonest slips for people who do not know TOML.
func syntaxError(err error) error {
	var d *toml.DecodeError
	if !errors.As(err, &d) {
		return &InputError{Message: strings.TrimPrefix(err.Error(), "toml: ")}
	}
	line, column := d.Position()
	msg := strings.TrimPrefix(d.Error(), "toml: ")
	_, found, _ := strings.Cut(msg, "'") // the character that was not expected
	found, _, _ = strings.Cut(found, "'")
	switch {
	case strings.Contains(msg, "U+002C"):
		msg = "a comma follows the value; write decimals with a point: 0.25"
	case strings.Contains(msg, "U+0025"):
		msg = `a percent sign without quotes; write percentages in quotes: "25%"`
	case strings.Contains(msg, "expected newline") && strings.Contains(msg, "U+002E"):
		msg = `a point follows the value; write ranges in quotes: "0.05..0.15"`
	case strings.Contains(msg, "expected newline"):
		msg = fmt.Sprintf("the line must end after the value, but %q follows", found)
	case strings.Contains(msg, "start of value") && (strings.Contains(msg, "U+0023") || strings.Contains(msg, "U+000A") || strings.Contains(msg, "U+000D")):
		msg = "the value is missing after ="
	case strings.Contains(msg, "start of value") && strings.Contains(msg, "U+002E"):
		msg = "a value cannot start with a point; write 0.25"
	case strings.Contains(msg, "start of value"):
		msg = fmt.Sprintf(`a value cannot start with %q; put text in quotes: "leafing"`, found)
	case strings.Contains(msg, "cannot have new lines"):
		msg = "the quotes are not closed on this line"
	case strings.Contains(msg, "should be an array table"):
		msg += "; write every stage with two brackets: [[stage]]"
	}
	return &InputError{Line: line, Column: column, Message: msg}
}

// keyLines returns the line of every key by its path, such as "stage.0.upper".
// The document is known to be valid.
func keyLines(text []byte) map[string]int {
	lines := map[string]int{}
	count := map[string]int{}
	set := func(path string, line int) {
		lines[path] = line
		for i := strings.LastIndexByte(path, '.'); i > 0; i = strings.LastIndexByte(path[:i], '.') {
			if lines[path[:i]] == 0 {
				lines[path[:i]] = line
			}
		}
	}
	var p unstable.Parser
	p.Reset(text)
	prefix := ""
	for p.NextExpression() {
		e := p.Expression()
		if e.Kind != unstable.KeyValue && e.Kind != unstable.Table && e.Kind != unstable.ArrayTable {
			continue
		}
		var parts []string
		line := 0
		for it := e.Key(); it.Next(); {
			parts = append(parts, string(it.Node().Data))
			line = p.Shape(it.Node().Raw).Start.Line
		}
		name := strings.Join(parts, ".")
		switch e.Kind {
		case unstable.KeyValue:
			set(prefix+name, line)
		case unstable.ArrayTable:
			i := count[name]
			count[name]++
			name += "." + strconv.Itoa(i)
			set(name, line)
			prefix = name + "."
		default:
			set(name, line)
			prefix = name + "."
		}
	}
	return lines
}

// A reader collects the faults of a document and the defaults taken.
type reader struct {
	lines    map[string]int
	errs     []*InputError
	defaults []string
	// stageName is the stage being read.
	// open says that a season is promised, so that some keys may be left to be chosen.
	open       bool
	stageName  string
	autoPlants bool
}

// unknown is [reader.fail] for a name that is none of those known.
func (r *reader) unknown(path, name string, known []string, format string, args ...any) {
	r.fail(path, format, args...)
	last := r.errs[len(r.errs)-1]
	last.Name, last.Known = name, known
}

func (r *reader) fail(path, format string, args ...any) {
	line := 0
	for at := path; line == 0 && at != ""; {
		line = r.lines[at]
		cut := strings.LastIndexByte(at, '.')
		at = at[:max(cut, 0)]
	}
	r.errs = append(r.errs, &InputError{Line: line, Message: fmt.Sprintf(format, args...)})
}

// faults takes over what is wrong with the values that were read, each with the
// key that it came from.
func (r *reader) faults(fs []fault) {
	said := map[string]bool{}
	for _, f := range fs {
		path := r.origin(f)
		if key := f.key(path); !said[key] {
			said[key] = true
			r.fail(path, "%s", f.Error())
		}
	}
}

// origin returns the path of the key that a fault's value came from: a stage may
// have a key of its own in place of a section's.
func (r *reader) origin(f fault) string {
	if _, name, ok := strings.Cut(f.Path, "."); ok && f.stage >= 0 {
		if own := fmt.Sprintf("stage.%d.%s", f.stage, name); r.lines[own] != 0 {
			return own
		}
	}
	return f.Path
}

func (r *reader) protocol(doc map[string]any) Protocol {
	top := r.section("", doc)
	p := Protocol{
		Title:    top.text("title"),
		Pest:     top.text("pest"),
		Crop:     top.text("crop"),
		Cautions: top.text("cautions"),
	}
	var seasonal, regional *section
	p.Season, seasonal = top.named("season")
	p.Region, regional = top.named("region")
	r.open = seasonal != nil
	common := Terms{Unit: SampleUnit{Leaves: 1}, Stop: DefaultStop}
	var sections []*section
	for _, name := range []string{"sample_unit", "stop", "clumping", "hold_under"} {
		s := top.table(name)
		readTerms(s, name, &common)
		sections = append(sections, s)
	}
	before := r.defaults
	r.defaults = nil
	s := top.optional("coming_back")
	if s == nil && r.open {
		s = r.section("coming_back", nil)
	}
	if s != nil {
		common.ComingBack = new(ComingBack)
		*common.ComingBack = DefaultComingBack
		readTerms(s, "coming_back", &common)
		s.finish()
	}
	back := r.defaults
	r.defaults = before
	for i, s := range top.tables("stage") {
		p.Stages = append(p.Stages, r.stage(i, s, common))
		s.finish()
	}
	r.defaults = append(r.defaults, back...)
	if seasonal != nil {
		p.Seasonal = r.season(seasonal, p.Stages)
	}
	if seasonal != nil || regional != nil {
		p.Regional = r.region(regional, p.Stages)
	}
	p.Route = r.route(top.optional("route"))
	if costs := top.optional("costs"); costs != nil {
		p.Costs = &Costs{
			Currency:       costs.text("currency"),
			CropPerHa:      costs.required("crop_per_ha"),
			TreatmentPerHa: costs.required("treatment_per_ha"),
			ScoutPerHour:   costs.required("scout_per_hour"),
			FieldHa:        costs.required("field_ha"),
			Prior:          costs.prior("prior"),
		}
		costs.finish()
	}
	for _, s := range append(sections, top) {
		s.finish()
	}
	p.AutoPlants, p.Defaults = r.autoPlants, r.defaults
	return p
}

func (r *reader) tookDefault(path string, value any) {
	if rest, ok := strings.CutPrefix(path, "stage."); ok {
		_, key, _ := strings.Cut(rest, ".")
		path = fmt.Sprintf("%s of stage %s", key, r.stageName)
	}
	r.defaults = append(r.defaults, fmt.Sprintf("%s = %v", strings.TrimPrefix(path, "."), value))
}
