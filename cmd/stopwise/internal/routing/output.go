package routing

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/validate/layout"
)

type routeJSON struct {
	report.Envelope
	Seed         uint64     `json:"seed"`
	FirstVerdict int        `json:"first_verdict"` // stop at which a verdict can first come
	Metres       float64    `json:"metres"`        // walked to the last stop
	OffCentre    float64    `json:"off_centre"`    // see the text
	Margin       float64    `json:"margin"`        // metres kept from the edges at least
	AreaHa       float64    `json:"area_ha"`
	From         placeJSON  `json:"from"` // where the scout comes in
	Stops        []stopJSON `json:"stops"`
}

type placeJSON struct {
	X         float64  `json:"x"`
	Y         float64  `json:"y"`
	Longitude *float64 `json:"longitude"`
	Latitude  *float64 `json:"latitude"`
}

type stopJSON struct {
	Stop      int      `json:"stop"`
	X         float64  `json:"x"` // metres from the south-west corner
	Y         float64  `json:"y"`
	Metres    float64  `json:"metres"` // from the stop before, for the first from where the scout comes in
	Longitude *float64 `json:"longitude"`
	Latitude  *float64 `json:"latitude"`
	Place     string   `json:"place"`
}

func (l laid) output(files []string) report.Output {
	d := l.document()
	if len(files) > 0 {
		d.Para("Written: %s.", strings.Join(files, ", "))
	}
	j := routeJSON{Envelope: report.Envelope{Kind: "stopwise route", Version: 1}, Seed: l.seed, FirstVerdict: l.first,
		Metres: l.route.Metres, OffCentre: l.route.Offset, Margin: l.ground.Margin, AreaHa: l.field.Area() / 1e4}
	lon, lat := l.globe(l.route.From)
	j.From = placeJSON{l.route.From[0], l.route.From[1], lon, lat}
	records := report.NewRecords("stop", "x", "y", "metres", "longitude", "latitude", "place")
	for i, s := range l.route.Stops {
		lon, lat := l.globe(s.At)
		j.Stops = append(j.Stops, stopJSON{i + 1, s.At[0], s.At[1], s.Metres, lon, lat, l.words(s.At)})
		records.Add(i+1, s.At[0], s.At[1], s.Metres, lon, lat, l.words(s.At))
	}
	return report.Output{Doc: d, Records: records, JSON: j}
}

// globe returns longitude and latitude, nil where they are not known.
func (l laid) globe(p orb.Point) (lon, lat *float64) {
	at, known := l.field.OnGlobe(p)
	if !known {
		return nil, nil
	}
	x, y := at.Lon(), at.Lat()
	return &x, &y
}

// document is what people read, before files and cautions.
func (l laid) document() *report.Document {
	d := &report.Document{}
	d.Heading("Where to stop" + say.Titled(l.plan.Protocol.About()))
	d.Para("%s", l.fieldSentence())
	t := &report.Table{Caption: "Stops in the order walked; metres are straight from the stop before, for the first from where you come in.", Columns: []report.Column{
		{Head: "stop", Right: true}, {Head: "where"}, {Head: "metres", Right: true}}}
	if l.field.Corner != nil {
		t.Columns = append(t.Columns, report.Column{Head: "latitude", Right: true}, report.Column{Head: "longitude", Right: true})
	} else {
		t.Columns = append(t.Columns, report.Column{Head: "along", Right: true}, report.Column{Head: "across", Right: true})
	}
	for i, s := range l.route.Stops {
		row := []string{strconv.Itoa(i + 1), l.words(s.At), report.Whole(s.Metres)}
		if lon, lat := l.globe(s.At); lon != nil {
			// The sixth decimal is a tenth of a metre.
			row = append(row, report.Fixed(*lat, 6), report.Fixed(*lon, 6))
		} else {
			row = append(row, report.Whole(s.At[0])+" m", report.Whole(s.At[1])+" m")
		}
		t.Add(row...)
	}
	d.Table(t)
	d.List(l.sentences()...)
	return d
}

func (l laid) fieldSentence() string {
	length, width := l.field.Size()
	text := fmt.Sprintf("A field of %s ha, %s m by %s m. ", report.Number(l.field.Area()/1e4, 3), report.Whole(length), report.Whole(width))
	if l.field.Corner == nil {
		text += "You stand in a corner: along is the first length, across the second, and the near side is the one you look along."
	} else {
		text += "Places are told from the box around the field, north up. You come in " + l.words(l.route.From) + "."
	}
	return text
}

// sentences say what the layout is worth.
func (l laid) sentences() []string {
	toFirst := 0.0
	for _, s := range l.route.Stops[:l.first] {
		toFirst += s.Metres
	}
	out := []string{
		fmt.Sprintf("A verdict can come from stop %d on. From there on the mean place of the stops walked is never more than %s of the field's longer side off its centre.", l.first, report.Percent(l.route.Offset)),
		fmt.Sprintf("To stop %d it is %s m, %s at %s m a minute; to the last one %s m.", l.first, report.Whole(toFirst), report.Minutes(toFirst/l.speed), report.Plain(l.speed), report.Whole(l.route.Metres)),
		fmt.Sprintf("Stops keep %s m from the edges. Begin at stop 1 and take them in order: the order is what makes an early verdict one on the whole field.", report.Whole(l.ground.Margin)),
		fmt.Sprintf("Seed %d; another visit takes another one.", l.seed),
	}
	if l.first < 3 {
		out = append(out, "With so early a first verdict no route can have seen the whole field: minimum_stops of 3 or 4 in the protocol lets it.")
	}
	return out
}

// page is the document with its picture, to print.
func (l laid) page() ([]byte, error) {
	d := l.document()
	svg, err := figure.Inline(l.picture(), "stops")
	if err != nil {
		return nil, err
	}
	all := &report.Document{Blocks: d.Blocks[:2:2]}
	all.Figure(svg)
	all.Blocks = append(all.Blocks, d.Blocks[2:]...)
	return report.Page(all, "Where to stop"+say.Titled(l.plan.Protocol.About()))
}

func (l laid) picture() figure.Stops {
	length, width := l.field.Size()
	f := figure.Stops{Title: fmt.Sprintf("%d stops; from stop %d on a verdict can come", len(l.route.Stops), l.first), Length: length, Width: width, First: l.first,
		Gate: &figure.Point{X: l.route.From[0], Y: l.route.From[1]}}
	for _, ring := range l.field.Shape {
		f.Outline = append(f.Outline, points(ring))
	}
	for _, s := range l.route.Stops {
		f.Places = append(f.Places, figure.Point{X: s.At[0], Y: s.At[1]})
	}
	return f
}

func points(ring orb.Ring) []figure.Point {
	out := make([]figure.Point, len(ring))
	for i, p := range ring {
		out[i] = figure.Point{X: p[0], Y: p[1]}
	}
	return out
}

// words says where in the field a place lies.
func (l laid) words(p orb.Point) string { return placeWords(l.field, p) }

func placeWords(f layout.Field, p orb.Point) string {
	length, width := f.Size()
	if f.Corner != nil {
		return share(p[0]/length, "at the west end", "%s from west to east", "at the east end") + ", " +
			share(p[1]/width, "near the south side", "%s from south to north", "near the north side")
	}
	return share(p[0]/length, "at this end", "%s along", "at the far end") + ", " +
		share(p[1]/width, "near the near side", "%s across", "near the far side")
}

// share says a share of a way in the words of everyday.
func share(x float64, start, between, end string) string {
	switch {
	case x < 0.15:
		return start
	case x > 0.85:
		return end
	}
	best := shares[0]
	for _, s := range shares[1:] {
		if abs(s.at-x) < abs(best.at-x) {
			best = s
		}
	}
	return fmt.Sprintf(between, best.word)
}

func abs(x float64) float64 { return max(x, -x) }

var shares = []struct {
	at   float64
	word string
}{{1. / 4, "a quarter"}, {1. / 3, "a third"}, {1. / 2, "half way"}, {2. / 3, "two thirds"}, {3. / 4, "three quarters"}}
