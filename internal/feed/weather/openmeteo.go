package weather

import (
	"fmt"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// The units in which Open-Meteo states its columns [OpenMeteo]. Snow that falls is in centimetres, snow that lies in
// metres. A unit that is not here is an error.
var (
	omCelsius  = map[string]func(float64) float64{"°C": same}
	omSpeed    = map[string]func(float64) float64{"km/h": func(v float64) float64 { return v * float64(quantity.KilometrePerHour) }, "m/s": same}
	omDegrees  = map[string]func(float64) float64{"°": same}
	omPercent  = map[string]func(float64) float64{"%": func(v float64) float64 { return v / 100 }}
	omRain     = map[string]func(float64) float64{"mm": func(v float64) float64 { return v * float64(quantity.Millimetre) }}
	omSnow     = map[string]func(float64) float64{"cm": func(v float64) float64 { return v * float64(quantity.Centimetre) }}
	omDistance = map[string]func(float64) float64{"m": same}
)

// omFields gives the columns that are read.
func omFields() []field {
	return []field{
		fieldOf(file.Temperature, "temperature_2m", omCelsius),
		fieldOf(file.Wind, "wind_speed_10m", omSpeed),
		fieldOf(file.Gust, "wind_gusts_10m", omSpeed),
		fieldOf(file.WindFrom, "wind_direction_10m", omDegrees),
		fieldOf(file.Sky, "cloud_cover", omPercent),
		fieldOf(file.Snow, "snowfall", omSnow),
		fieldOf(file.Precip, "precipitation", omRain),
		fieldOf(file.Visibility, "visibility", omDistance),
	}
}

// beforeStamp tells the columns that speak of the hour before their time: sums and the greatest gust [OpenMeteo].
func beforeStamp(fd field) bool { return fd.amount || fd.meaning == file.Gust }

// readOpenMeteo reads the hourly columns. The answer does not say when its models ran, so its age stays unknown.
func readOpenMeteo(b []byte, p *file.Preview) Forecast {
	f := Forecast{Source: SourceOpenMeteo, Licence: ccBy}
	hourly, units := file.Member(b, "hourly"), file.Member(b, "hourly_units")
	m := omReader{preview: p, hours: hours{}}
	m.offset(b, file.Member(units, "time"))
	if p.Err() != nil {
		return f
	}
	m.readTimes(file.Member(hourly, "time"))
	for _, fd := range omFields() {
		column := file.Member(hourly, fd.name)
		if file.IsNull(column) {
			p.Columns = append(p.Columns, file.ColumnMeaning{Header: fd.name, Why: "not in the file; unknown"})
			continue
		}
		fd.settle(p, file.Member(units, fd.name))
		if fd.convert == nil {
			if p.Err() == nil {
				fd.refuse(p, "")
			}
			continue
		}
		m.column(fd, column)
	}
	m.settle()
	f.Hours = m.hours.sorted()
	return f
}

// omRow is one time of the answer.
type omRow struct {
	start time.Time // zero: the time was refused
	bad   bool      // a value of it was refused
	told  bool      // a value of it is known
}

type omReader struct {
	preview *file.Preview
	unix    bool
	east    time.Duration // of the clock in which local times are told
	rows    []omRow
	sets    []func() // what to set once it is known which rows stand
	hours   hours
}

// offset finds how times are told. Local times carry no offset of their own: one holds for the whole answer.
func (m *omReader) offset(b, unit []byte) {
	p := m.preview
	switch u, _ := file.JSONString(unit); u {
	case "unixtime":
		m.unix = true
	case "iso8601":
		east, ok := file.JSONNumber(file.Member(b, "utc_offset_seconds"))
		if !ok || east < -50400 || east > 50400 || east != float64(int(east)) { // 14 h: no clock is further from UTC
			p.Reject("utc_offset_seconds", "", "its local times have no offset from UTC", "Ask for timeformat=unixtime.")
		}
		m.east = time.Duration(east) * time.Second
	default:
		p.Reject("time", string(unit), "its times are of a form that is not known here", "Ask for timeformat=unixtime.")
	}
}

// time reads one stamp.
func (m *omReader) time(b []byte) (time.Time, error) {
	if m.unix {
		v, ok := file.JSONNumber(b)
		if !ok || v != float64(int64(v)) || v < -1e10 || v > 1e10 {
			return time.Time{}, fmt.Errorf("not a time")
		}
		return time.Unix(int64(v), 0).UTC(), nil
	}
	s, _ := file.JSONString(b)
	t, err := time.Parse("2006-01-02T15:04", s)
	if err != nil {
		return t, fmt.Errorf("not a time")
	}
	return t.Add(-m.east), nil
}

func (m *omReader) readTimes(b []byte) {
	p := m.preview
	var c clock
	err := file.Elements(b, func(i int, v []byte) error {
		if i >= maxIntervals {
			return fmt.Errorf("it has more than %d times", maxIntervals)
		}
		p.Rows++
		t, err := m.time(v)
		if err == nil {
			err = c.next(t)
		}
		if err != nil {
			p.Refuse(i+1, "time", string(v[:min(len(v), 40)]), err.Error(), "")
			t = time.Time{}
		}
		m.rows = append(m.rows, omRow{start: t})
		return nil
	})
	if err != nil {
		p.Reject("time", "", fmt.Sprintf("it has no list of times: %v", err), "Fetch it again.")
	}
}

// column reads the values of one layer.
func (m *omReader) column(fd field, b []byte) {
	p, n := m.preview, 0
	err := file.Elements(b, func(i int, raw []byte) error {
		n++
		if i >= len(m.rows) || m.rows[i].start.IsZero() || m.rows[i].bad {
			return nil
		}
		r := &m.rows[i]
		v, known, ok := fd.value(raw)
		if !ok {
			r.bad = true
			p.Refuse(i+1, fd.name, string(raw[:min(len(raw), 40)]), "not a possible value", "")
			return nil
		}
		if known {
			r.told = true
			m.sets = append(m.sets, func() { m.put(fd, i, v) })
		}
		return nil
	})
	if err != nil || n != len(m.rows) {
		p.Reject(fd.name, "", fmt.Sprintf("%s has %d values for %d times", fd.name, n, len(m.rows)), "Fetch it again.")
	}
}

// put sets a value in its hour. What speaks of an hour that has no row of its own is left out.
func (m *omReader) put(fd field, row int, v float64) {
	if m.rows[row].bad {
		return
	}
	start := m.rows[row].start
	if beforeStamp(fd) {
		start = start.Add(-time.Hour)
	}
	if h, ok := m.hours[start]; ok {
		fd.set(h, v)
	}
}

// settle counts the rows and fills the hours of those that stand.
func (m *omReader) settle() {
	for _, r := range m.rows {
		switch {
		case r.start.IsZero() || r.bad: // refused already
		case !r.told:
			m.preview.Blank++
		default:
			m.preview.Taken++
			m.hours.at(r.start)
		}
	}
	for _, set := range m.sets {
		set()
	}
}
