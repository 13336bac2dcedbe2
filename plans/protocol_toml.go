package plans

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

// An InputError is a fault in a text that was read, with its place.
type InputError struct {
	Line    int // from 1; 0 where the text as a whole is meant
	Column  int // from 1; 0 where the line is meant
	Message string
}

func (e *InputError) Error() string {
	if e.Line == 0 {
		return e.Message
	}
	return fmt.Sprintf("line %d: %s", e.Line, e.Message)
}

// Position returns the line and the column, 0 where there is none.
func (e *InputError) Position() (line, column int) { return e.Line, e.Column }

// Text returns the message without its place.
func (e *InputError) Text() string { return e.Message }

// ReadProtocol reads a protocol written in TOML. It is strict: a key it does not
// know is an error. All faults are reported at once, as InputErrors joined and
// in the order of their lines.
func ReadProtocol(text []byte) (Protocol, error) {
	text = bytes.TrimPrefix(text, []byte("\ufeff")) // some editors put a byte order mark there
	doc := map[string]any{}
	if err := toml.Unmarshal(text, &doc); err != nil {
		return Protocol{}, syntaxError(err)
	}
	r := &reader{lines: keyLines(text)}
	p := r.protocol(doc)
	if len(r.errs) == 0 {
		r.fieldErrors(p.Check())
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
	return &InputError{line, column, msg}
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
	stageName string
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

func (r *reader) fieldErrors(err error) {
	if err == nil {
		return
	}
	for _, e := range err.(interface{ Unwrap() []error }).Unwrap() {
		var f *FieldError
		if errors.As(e, &f) {
			r.fail(f.Path, "%s", f.Message)
		}
	}
}

func (r *reader) protocol(doc map[string]any) Protocol {
	top := r.section("", doc)
	p := Protocol{
		Title:    top.text("title"),
		Region:   top.text("region"),
		Season:   top.text("season"),
		Pest:     top.text("pest"),
		Crop:     top.text("crop"),
		Cautions: top.text("cautions"),
	}
	unit := top.table("sample_unit")
	p.Unit = SampleUnit{
		Text:   unit.text("text"),
		Leaves: unit.whole("leaves", 1),
		Tally:  unit.wholeOr("tally", 0),
	}
	stop := top.table("stop")
	p.Stop = StopRules{
		Plants:       stop.whole("plants", DefaultStop.Plants),
		Minimum:      stop.whole("minimum_stops", DefaultStop.Minimum),
		Maximum:      stop.whole("maximum_stops", DefaultStop.Maximum),
		WalkMinutes:  stop.number("walk_minutes", DefaultStop.WalkMinutes),
		PlantMinutes: stop.number("plant_minutes", DefaultStop.PlantMinutes),
	}
	clumping := top.table("clumping")
	p.Clumping = Clumping{
		Rho:    clumping.valueRange("rho"),
		K:      clumping.valueRange("k"),
		Taylor: (*Taylor)(clumping.pair("taylor")),
		Iwao:   (*Iwao)(clumping.pair("iwao")),
		Source: clumping.text("source"),
	}
	for i, s := range top.tables("stage") {
		p.Stages = append(p.Stages, r.stage(i, s))
		s.finish()
	}
	if back := top.optional("coming_back"); back != nil {
		p.ComingBack = &ComingBack{
			DaysUntilFound: back.number("days_until_found", DefaultComingBack.DaysUntilFound),
			DaysOnceFound:  back.number("days_once_found", DefaultComingBack.DaysOnceFound),
			LeadDays:       back.number("lead_days", DefaultComingBack.LeadDays),
			GrowthPerDay:   back.number("growth_per_day", DefaultComingBack.GrowthPerDay),
			Confidence:     back.shareOr("confidence", DefaultComingBack.Confidence),
		}
		back.finish()
	}
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
	for _, s := range []*section{unit, stop, clumping, top} {
		s.finish()
	}
	p.Defaults = r.defaults
	return p
}

func (r *reader) stage(i int, s *section) Stage {
	st := Stage{
		Name:         s.text("name"),
		Measure:      Measure(s.text("measure")),
		NeedlessRisk: s.share("needless_risk"),
		MissedRisk:   s.share("missed_risk"),
	}
	r.stageName = st.Name
	if _, isText := s.values["name"].(string); st.Name == "" && (isText || !s.has("name")) {
		r.fail(s.at("name"), "stage without a name; add name = \"leafing\" or the like")
	}
	if st.Measure == "" {
		st.Measure = ShareInfested
		r.tookDefault(s.path+".measure", st.Measure)
	}
	level := s.share
	if st.Measure == MeanPerLeaf {
		level = s.required
	}
	st.Lower, st.Upper = level("lower"), level("upper")
	if s.has("threshold") {
		st.Threshold = level("threshold")
	} else {
		st.Threshold = Middle(st.Lower, st.Upper)
		r.tookDefault(s.path+".threshold", FormatLevel(st.Measure, st.Threshold)+" (the middle of the bounds)")
	}
	if s.has("late_loss") {
		st.LateLoss = s.share("late_loss")
	}
	if s.has("lasts_days") {
		st.LastsDays = s.required("lasts_days")
	}
	if s.has("sign") {
		st.Sign = &Sign{Text: s.text("sign"), Stops: s.whole("sign_stops", 1)}
	}
	for key, to := range map[string]func(float64){
		"sign_chance":       func(x float64) { st.Sign.Chance = x },
		"sign_chance_lower": func(x float64) { st.Sign.ChanceLower = x },
		"sign_stops":        nil,
	} {
		switch {
		case !s.has(key):
		case st.Sign == nil:
			r.fail(s.path+"."+key, "%s without sign; say in sign what must be seen", key)
		case to != nil:
			to(s.share(key))
		}
	}
	st.Tally = s.wholeOr("tally", 0)
	if s.has("plant_minutes") {
		st.PlantMinutes = s.numberOf("plant_minutes")
		if st.PlantMinutes == 0 {
			s.wrong("plant_minutes", "a number above 0")
		}
	}
	return st
}

// Middle returns the middle of two bounds, to the digits a person would write.
func Middle(lower, upper float64) float64 {
	m, err := strconv.ParseFloat(strconv.FormatFloat((lower+upper)/2, 'g', 12, 64), 64)
	if err != nil {
		return (lower + upper) / 2
	}
	return m
}

func (r *reader) tookDefault(path string, value any) {
	if rest, ok := strings.CutPrefix(path, "stage."); ok {
		_, key, _ := strings.Cut(rest, ".")
		path = fmt.Sprintf("%s of stage %s", key, r.stageName)
	}
	r.defaults = append(r.defaults, fmt.Sprintf("%s = %v", strings.TrimPrefix(path, "."), value))
}
