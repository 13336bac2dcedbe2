package routing

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/words"
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
	j := routeJSON{Envelope: report.Envelope{Kind: "stopwise route", Version: 1}, Seed: l.seed, FirstVerdict: l.First,
		Metres: l.Route.Metres, OffCentre: l.Route.Offset, Margin: l.Ground.Margin, AreaHa: l.Field.Area() / 1e4}
	lon, lat := l.globe(l.Route.From)
	j.From = placeJSON{l.Route.From[0], l.Route.From[1], lon, lat}
	for i, s := range l.Route.Stops {
		lon, lat := l.globe(s.At)
		j.Stops = append(j.Stops, stopJSON{i + 1, s.At[0], s.At[1], s.Metres, lon, lat, l.words(s.At)})
	}
	return report.Output{Doc: d, Records: report.RecordsOf(j.Stops), JSON: j}
}

// globe returns longitude and latitude, nil where they are not known.
func (l laid) globe(p orb.Point) (lon, lat *float64) {
	at, known := l.Field.OnGlobe(p)
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
	t := report.NewTable("Stops in the order walked; metres are straight from the stop before, for the first from where you come in.",
		">stop", "where", ">metres")
	if l.Field.Corner != nil {
		t.Head(">latitude", ">longitude")
	} else {
		t.Head(">along", ">across")
	}
	for i, s := range l.Route.Stops {
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
	length, width := l.Field.Size()
	text := fmt.Sprintf("A field of %s ha, %s m by %s m. ", report.Number(l.Field.Area()/1e4, 3), report.Whole(length), report.Whole(width))
	if l.Field.Corner == nil {
		text += "You stand in a corner: along is the first length, across the second, and the near side is the one you look along."
	} else {
		text += "Places are told from the box around the field, north up. You come in " + l.words(l.Route.From) + "."
	}
	return text
}

// sentences say what the layout is worth.
func (l laid) sentences() []string {
	toFirst := 0.0
	for _, s := range l.Route.Stops[:l.First] {
		toFirst += s.Metres
	}
	out := []string{
		fmt.Sprintf("A verdict can come from stop %d on. From there on the mean place of the stops walked is never more than %s of the field's longer side off its centre.", l.First, report.Percent(l.Route.Offset)),
		fmt.Sprintf("To stop %d it is %s m, %s at %s m a minute; to the last one %s m.", l.First, report.Whole(toFirst), report.Minutes(toFirst/l.speed), report.Plain(l.speed), report.Whole(l.Route.Metres)),
		fmt.Sprintf("Stops keep %s m from the edges. Begin at stop 1 and take them in order: the order is what makes an early verdict one on the whole field.", report.Whole(l.Ground.Margin)),
		fmt.Sprintf("Seed %d; another visit takes another one.", l.seed),
	}
	if l.First < 3 {
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
	return l.Picture(fmt.Sprintf("%d stops; from stop %d on a verdict can come", len(l.Route.Stops), l.First))
}

// words says where in the field a place lies.
func (l laid) words(p orb.Point) string { return l.Where(words.English(), p) }
