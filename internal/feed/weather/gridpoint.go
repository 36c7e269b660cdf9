package weather

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// Bounds on a gridpoint: a real one has some hundred intervals in a layer and reaches eight days.
const (
	maxIntervals = 20_000
	maxSpan      = 45 * 24 * time.Hour
)

// uoms converts the units of the World Meteorological Organization's register that the service uses to SI, or Celsius,
// or a fraction [NWSAPI]. A unit that is not here is an error.
var uoms = map[file.Meaning]map[string]func(float64) float64{
	file.Temperature: {"degC": same, "degF": func(v float64) float64 { return quantity.Fahrenheit(v).Degrees() }},
	file.Wind:        speeds, file.Gust: speeds,
	file.WindFrom: {"degree_(angle)": same},
	file.Sky:      {"percent": func(v float64) float64 { return v / 100 }},
	file.Snow:     lengths, file.Precip: lengths, file.Visibility: lengths,
}

var (
	speeds  = map[string]func(float64) float64{"km_h-1": func(v float64) float64 { return v * float64(quantity.KilometrePerHour) }, "m_s-1": same}
	lengths = map[string]func(float64) float64{"mm": func(v float64) float64 { return v * float64(quantity.Millimetre) }, "m": same}
)

func same(v float64) float64 { return v }

// unitName strips the prefix or web address before a unit's name.
func unitName(uom string) string {
	return uom[strings.LastIndexAny(uom, ":/")+1:]
}

// hours collects values by the hour in which they hold.
type hours map[time.Time]*Hour

func (hs hours) at(t time.Time) *Hour {
	h, ok := hs[t]
	if !ok {
		h = &Hour{Start: t}
		hs[t] = h
	}
	return h
}

func (hs hours) sorted() []Hour {
	list := make([]Hour, 0, len(hs))
	for _, h := range hs {
		list = append(list, *h)
	}
	slices.SortFunc(list, func(a, b Hour) int { return a.Start.Compare(b.Start) })
	return list
}

// readGridpoint reads the raw layers of a gridpoint. Neighbouring hours of equal value are merged by the service, so each
// layer has intervals of its own; amounts are totals over theirs.
func readGridpoint(b []byte, p *file.Preview) (Forecast, error) {
	props := file.Member(b, "properties")
	if file.IsNull(props) {
		if title, ok := file.JSONString(file.Member(b, "title")); ok {
			return Forecast{}, fault.New(fault.BadInput, "Fetch it again later.", "the service answered with a problem in place of a forecast: %s", file.Short(title))
		}
		return Forecast{}, fault.New(fault.BadInput, "It must be the service's gridpoint data, not its text forecast.", "it is JSON, but not a gridpoint forecast")
	}
	f := Forecast{Source: SourceNWS, Issued: issueTime(p, "updateTime", file.Member(props, "updateTime"))}
	g := gridpoint{preview: p, hours: hours{}}
	for _, l := range layers {
		v := file.Member(props, l.json)
		if file.IsNull(v) {
			p.Columns = append(p.Columns, file.ColumnMeaning{Header: l.json, Why: "not in the file; unknown"})
			continue
		}
		g.layer(l, v)
	}
	f.Hours = g.hours.sorted()
	return f, nil
}

type gridpoint struct {
	preview *file.Preview
	hours   hours
	origin  time.Time // the first interval met: all others must lie near it
}

// layer reads the intervals of one quantity.
func (g *gridpoint) layer(l layer, b []byte) {
	p := g.preview
	uom, _ := file.JSONString(file.Member(b, "uom"))
	convert, ok := uoms[l.meaning][unitName(uom)]
	if !ok {
		p.Reject(l.json, uom, fmt.Sprintf("%s is in the unit %q, which is not known here", l.json, file.Short(uom)), "Do not use this file; fetch it again or use another service.")
		return
	}
	p.Columns = append(p.Columns, file.ColumnMeaning{Header: l.json, Meaning: string(l.meaning), Unit: unitName(uom), Why: "by its name"})
	var busy time.Time // end of the last interval taken
	err := file.Elements(file.Member(b, "values"), func(i int, v []byte) error {
		if i >= maxIntervals {
			return fmt.Errorf("%s has more than %d intervals", l.json, maxIntervals)
		}
		p.Rows++
		row := i + 1
		interval, _ := file.JSONString(file.Member(v, "validTime"))
		start, end, err := g.interval(interval)
		if err == nil && start.Before(busy) {
			err = fmt.Errorf("overlaps the interval before it")
		}
		if err != nil {
			p.Refuse(row, l.json, interval, err.Error(), "")
			return nil
		}
		raw := file.Member(v, "value")
		if file.IsNull(raw) {
			p.Blank++
			return nil
		}
		x, ok := file.JSONNumber(raw)
		if x = convert(x); !ok || !l.within(x) {
			p.Refuse(row, l.json, string(raw[:min(len(raw), 40)]), "not a possible value", "")
			return nil
		}
		p.Taken++
		busy = end
		n := end.Sub(start) / time.Hour
		if l.amount {
			x /= float64(n)
		}
		for k := range n {
			l.set(g.hours.at(start.Add(k*time.Hour)), x)
		}
		return nil
	})
	if err != nil {
		p.Reject(l.json, "", fmt.Sprintf("the layer %s has no list of values: %v", l.json, err), "Fetch it again.")
	}
}

// interval reads a valid time of whole hours near all the others.
func (g *gridpoint) interval(s string) (start, end time.Time, err error) {
	start, end, err = parseInterval(s)
	if err != nil {
		return start, end, err
	}
	if start.Unix()%3600 != 0 || end.Unix()%3600 != 0 {
		return start, end, fmt.Errorf("not whole hours")
	}
	if g.origin.IsZero() {
		g.origin = start
	}
	if start.Sub(g.origin).Abs() > maxSpan {
		return start, end, fmt.Errorf("weeks away from the rest of the forecast")
	}
	return start, end, nil
}
