package weather

import (
	"fmt"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// The units in which MET Norway states its details [METNorway]. A unit that is not here is an error.
var (
	metCelsius = map[string]func(float64) float64{"celsius": same}
	metSpeed   = map[string]func(float64) float64{"m/s": same}
	metDegrees = map[string]func(float64) float64{"degrees": same}
	metPercent = map[string]func(float64) float64{"%": func(v float64) float64 { return v / 100 }}
	metRain    = map[string]func(float64) float64{"mm": func(v float64) float64 { return v * float64(quantity.Millimetre) }}
)

// metFields gives the details that are read. The last stands in next_1_hours, the others in instant.
func metFields() []field {
	return []field{
		fieldOf(file.Temperature, "air_temperature", metCelsius),
		fieldOf(file.Wind, "wind_speed", metSpeed),
		fieldOf(file.Gust, "wind_speed_of_gust", metSpeed), // in some areas only
		fieldOf(file.WindFrom, "wind_from_direction", metDegrees),
		fieldOf(file.Sky, "cloud_area_fraction", metPercent),
		fieldOf(file.Precip, "precipitation_amount", metRain),
	}
}

// readMETNorway reads a Locationforecast. An entry holds from its time on; amounts are taken of the hour that begins there.
// Later entries lie six hours apart and tell amounts of six hours: which hour they fall in is not known, and stays so.
func readMETNorway(b []byte, p *file.Preview) Forecast {
	props := file.Member(b, "properties")
	meta := file.Member(props, "meta")
	f := Forecast{Source: SourceMETNorway, Licence: ccBy, Issued: issueTime(p, "updated_at", file.Member(meta, "updated_at"))}
	m := metReader{preview: p, fields: metFields(), hours: hours{}, noUnit: map[string]bool{}}
	units := file.Member(meta, "units")
	for i := range m.fields {
		fd := &m.fields[i]
		fd.settle(p, file.Member(units, fd.name))
	}
	if p.Err() != nil {
		return f
	}
	err := file.Elements(file.Member(props, "timeseries"), func(i int, entry []byte) error {
		if i >= maxIntervals {
			return fmt.Errorf("it has more than %d entries", maxIntervals)
		}
		m.entry(i+1, entry)
		return nil
	})
	if err != nil {
		p.Reject("timeseries", "", fmt.Sprintf("it has no list of times: %v", err), "Fetch it again.")
	}
	for _, fd := range m.fields {
		if m.noUnit[fd.name] {
			fd.refuse(p, "")
		}
	}
	f.Hours = m.hours.sorted()
	return f
}

type metReader struct {
	preview *file.Preview
	fields  []field
	hours   hours
	clock   clock
	noUnit  map[string]bool // details that came without a unit
}

// entry reads one time.
func (m *metReader) entry(row int, b []byte) {
	p := m.preview
	p.Rows++
	stamp, _ := file.JSONString(file.Member(b, "time"))
	t, err := time.Parse(time.RFC3339, stamp)
	if err != nil {
		p.Refuse(row, "time", stamp, "not a time", "")
		return
	}
	if err := m.clock.next(t.UTC()); err != nil {
		p.Refuse(row, "time", stamp, err.Error(), "")
		return
	}
	data := file.Member(b, "data")
	instant := file.Member(file.Member(data, "instant"), "details")
	next := file.Member(file.Member(data, "next_1_hours"), "details")
	h, told := Hour{Start: t.UTC()}, false
	for _, fd := range m.fields {
		from := instant
		if fd.amount {
			from = next
		}
		raw := file.Member(from, fd.name)
		if fd.convert == nil {
			m.noUnit[fd.name] = m.noUnit[fd.name] || !file.IsNull(raw)
			continue
		}
		v, known, ok := fd.value(raw)
		if !ok {
			p.Refuse(row, fd.name, string(raw[:min(len(raw), 40)]), "not a possible value", "")
			return
		}
		if known {
			told = true
			fd.set(&h, v)
		}
	}
	if !told {
		p.Blank++
		return
	}
	p.Taken++
	m.hours[h.Start] = &h
}
