package weather

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// Station is a place where a service measures the weather.
type Station struct {
	ID   string
	Name string
	At   geo.Position
}

// Reading is what a station measured at an instant. A nil value was not measured, or was doubted by the service.
type Reading struct {
	When        time.Time // UTC
	Temperature *quantity.Celsius
	Wind, Gust  *quantity.Speed // at the station's mast, 10 m as a rule
	WindFrom    *quantity.Bearing
}

// ReadingStaleAfter is the age beyond which a reading says nothing of now: stations report every hour, and one that has
// been silent for two reports is taken for dead. Our own choice.
const ReadingStaleAfter = 2 * time.Hour

// Stale tells whether a reading is too old to stand for now, or lies ahead of the clock by more than clocks differ.
func (r Reading) Stale(now time.Time) bool {
	age := now.Sub(r.When)
	return age > ReadingStaleAfter || age < -clocksDiffer
}

// Bounds on stations and readings: an answer has some dozens of either.
const (
	maxStations  = 1_000
	maxReadings  = 1_000
	clocksDiffer = 15 * time.Minute
)

var stationID = regexp.MustCompile(`^[A-Z0-9]{3,12}$`)

// ReadStations reads the stations near a place out of the US service's answer [NWSAPI]. Those without a usable name or
// place are passed over.
func ReadStations(data []byte, opt file.Options) ([]Station, error) {
	b, err := file.JSON(data, opt)
	if err != nil {
		return nil, err
	}
	var list []Station
	err = file.Elements(file.Member(b, "features"), func(i int, v []byte) error {
		if i >= maxStations {
			return fmt.Errorf("more than %d stations", maxStations)
		}
		props := file.Member(v, "properties")
		s := Station{}
		s.ID, _ = file.JSONString(file.Member(props, "stationIdentifier"))
		name, _ := file.JSONString(file.Member(props, "name"))
		s.Name = file.Short(strings.Map(printable, name))
		var xy []float64
		if err := file.Elements(file.Member(file.Member(v, "geometry"), "coordinates"), func(_ int, c []byte) error {
			if x, ok := file.JSONNumber(c); ok {
				xy = append(xy, x)
			}
			return nil
		}); err != nil || len(xy) < 2 {
			return nil // no place, so not near
		}
		s.At = geo.Position{Lat: xy[1], Lon: xy[0]}
		if stationID.MatchString(s.ID) && s.At.Valid() {
			list = append(list, s)
		}
		return nil
	})
	if err != nil {
		return nil, fault.Wrap(err, fault.BadInput, "Ask again later.", "the answer is no list of stations: %v", err)
	}
	return list, nil
}

// printable drops what could play tricks on a terminal.
func printable(r rune) rune {
	if r < ' ' || r == 0x7f || r >= 0x80 && r < 0xa0 || r >= 0x2028 && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
		return -1
	}
	return r
}

// doubted are the marks of quality control of values that failed a check: rejected, questioned, found bad by a person.
// The marks are published [NWSAPI]; their meaning is from memory, unverified: a doubted value is left unknown.
const doubted = "XQB"

// readingFields gives what is read of a reading.
func readingFields() []field {
	return []field{
		fieldOf(file.Temperature, "temperature", uoms[file.Temperature]),
		fieldOf(file.Wind, "windSpeed", uoms[file.Wind]),
		fieldOf(file.Gust, "windGust", uoms[file.Gust]),
		fieldOf(file.WindFrom, "windDirection", uoms[file.WindFrom]),
	}
}

// ReadReadings reads what a station measured out of the US service's answer [NWSAPI], by time, each instant once. A value
// in a unit that is not known refuses the whole answer, also where others could be read.
func ReadReadings(data []byte, opt file.Options) ([]Reading, file.Preview, error) {
	p := file.Preview{Kind: file.Weather, Name: "the answer"}
	b, err := file.JSON(data, opt)
	if err != nil {
		return nil, p, err
	}
	if file.Member(b, "features") == nil {
		title, _ := file.JSONString(file.Member(b, "title"))
		return nil, p, fault.New(fault.BadInput, "Ask again later.", "the answer holds no readings: %s", file.Short(strings.Map(printable, title)))
	}
	fields := readingFields()
	byTime := map[time.Time]Reading{}
	err = file.Elements(file.Member(b, "features"), func(i int, v []byte) error {
		if i >= maxReadings {
			return fmt.Errorf("more than %d readings", maxReadings)
		}
		if p.Err() != nil {
			return nil // refused already: once is enough
		}
		p.Rows++
		props := file.Member(v, "properties")
		stamp, _ := file.JSONString(file.Member(props, "timestamp"))
		t, err := time.Parse(time.RFC3339, stamp)
		if err != nil || t.Year() < 1950 || t.Year() > 2100 {
			p.Refuse(i+1, "timestamp", stamp, "not a time", "")
			return nil
		}
		h, told, ok := readingOf(fields, props, i+1, &p)
		switch {
		case !ok:
		case !told:
			p.Blank++
		default:
			p.Taken++
			r := Reading{When: t.UTC(), Temperature: h.Temperature, Wind: h.Wind, Gust: h.Gust, WindFrom: h.WindFrom}
			if r.Wind == nil || *r.Wind == 0 {
				r.WindFrom = nil // a calm has no direction, though 0 may be written
			}
			byTime[r.When] = r
		}
		return nil
	})
	if err != nil {
		return nil, p, fault.Wrap(err, fault.BadInput, "Ask again later.", "the answer is no list of readings: %v", err)
	}
	if err := p.Err(); err != nil {
		return nil, p, err
	}
	list := make([]Reading, 0, len(byTime))
	for _, r := range byTime {
		list = append(list, r)
	}
	slices.SortFunc(list, func(a, b Reading) int { return a.When.Compare(b.When) })
	return list, p, nil
}

// readingOf reads the values of one reading; ok is false when it was refused.
func readingOf(fields []field, props []byte, row int, p *file.Preview) (h Hour, told, ok bool) {
	for _, f := range fields {
		q := file.Member(props, f.name)
		raw := file.Member(q, "value")
		if file.IsNull(q) || file.IsNull(raw) {
			continue
		}
		unit, _ := file.JSONString(file.Member(q, "unitCode"))
		convert, known := f.units[unitName(unit)]
		if !known {
			f.refuse(p, unitName(unit))
			return h, false, false
		}
		if mark, _ := file.JSONString(file.Member(q, "qualityControl")); mark != "" && strings.Contains(doubted, mark) {
			continue
		}
		f.convert = convert
		v, _, possible := f.value(raw)
		if !possible {
			p.Refuse(row, f.name, string(raw[:min(len(raw), 40)]), "not a possible value", "")
			return h, false, false
		}
		told = true
		f.set(&h, v)
	}
	return h, told, true
}

// At gives the hour of the forecast that an instant falls in; nil when it has none.
func (f Forecast) At(t time.Time) *Hour {
	for i, h := range f.Hours {
		if !h.Start.After(t) && t.Before(h.Start.Add(time.Hour)) {
			return &f.Hours[i]
		}
	}
	return nil
}
