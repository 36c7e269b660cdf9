package weather

import (
	"fmt"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/feed/file"
)

// The services whose answers are read, as [Forecast.Source] names them.
const (
	SourceNWS       = "NWS gridpoint"
	SourceMETNorway = "MET Norway Locationforecast"
	SourceOpenMeteo = "Open-Meteo"
)

// ccBy is the licence of MET Norway [METNorway] and of Open-Meteo [OpenMeteo]: the credit must be shown with the data.
const ccBy = "CC BY 4.0"

// Credit is the line that the licence of a service asks for wherever its data is shown.
func Credit(source, licence string) string {
	return fmt.Sprintf("Weather data from %s, %s, changed: hours and units.", source, licence)
}

// readJSON tells the services' answers apart by the member that holds the hours.
func readJSON(data []byte, opt file.Options, p *file.Preview) (Forecast, error) {
	b, err := file.JSON(data, opt)
	switch {
	case err != nil:
		return Forecast{}, err
	case file.Member(file.Member(b, "properties"), "timeseries") != nil:
		return readMETNorway(b, p), nil
	case file.Member(b, "hourly") != nil:
		return readOpenMeteo(b, p), nil
	case string(file.Member(b, "error")) == "true":
		reason, _ := file.JSONString(file.Member(b, "reason"))
		return Forecast{}, fault.New(fault.BadInput, "Fetch it again later.", "the service answered with a problem in place of a forecast: %s", file.Short(reason))
	}
	return readGridpoint(b, p)
}

// issueTime reads when a forecast was made; absent is unknown, nonsense refuses the file.
func issueTime(p *file.Preview, name string, b []byte) time.Time {
	if file.IsNull(b) {
		return time.Time{}
	}
	s, _ := file.JSONString(b)
	t, err := time.Parse(time.RFC3339, s)
	if err != nil || t.Year() < 1950 || t.Year() > 2100 {
		p.Reject(name, s, "its issue time is not a time", "Fetch it again.")
		return time.Time{}
	}
	return t.UTC()
}

// field is where a service puts a layer: its name there, and the units in which it may come.
type field struct {
	layer
	name  string
	units map[string]func(float64) float64
	// convert is the unit's own; nil when the unit is not stated.
	convert func(float64) float64
}

// fieldOf ties a service's name to a layer.
func fieldOf(m file.Meaning, name string, units map[string]func(float64) float64) field {
	for _, l := range layers {
		if l.meaning == m {
			return field{layer: l, name: name, units: units}
		}
	}
	panic("weather: no layer " + string(m))
}

// settle finds the conversion of a field from the unit that the answer states, and refuses the file for a unit that is
// not known: it is never guessed.
func (f *field) settle(p *file.Preview, unit []byte) {
	if file.IsNull(unit) {
		return
	}
	u, _ := file.JSONString(unit)
	convert, ok := f.units[u]
	if !ok {
		f.refuse(p, string(unit))
		return
	}
	f.convert = convert
	p.Columns = append(p.Columns, file.ColumnMeaning{Header: f.name, Meaning: string(f.meaning), Unit: u, Why: "by its name"})
}

func (f *field) refuse(p *file.Preview, unit string) {
	p.Reject(f.name, unit, fmt.Sprintf("%s is in the unit %q, which is not known here", f.name, file.Short(unit)), "Do not use this file; fetch it again or use another service.")
}

// value reads one value: known is false for null, ok is false for one that cannot be.
func (f *field) value(b []byte) (v float64, known, ok bool) {
	if file.IsNull(b) {
		return 0, false, true
	}
	v, ok = file.JSONNumber(b)
	if !ok || f.convert == nil {
		return 0, false, false
	}
	v = f.convert(v)
	return v, true, f.within(v)
}

// clock checks the times of a service: whole hours, forward, near one another.
type clock struct{ first, last time.Time }

// next takes a time, or says what is wrong with it.
func (c *clock) next(t time.Time) error {
	switch {
	case t.Year() < 1950 || t.Year() > 2100:
		return fmt.Errorf("not in the years 1950 to 2100")
	case t.Unix()%3600 != 0:
		return fmt.Errorf("not a whole hour")
	case c.first.IsZero():
		c.first = t
	case !t.After(c.last):
		return fmt.Errorf("not after the time before it")
	case t.Sub(c.first) > maxSpan:
		return fmt.Errorf("weeks away from the rest of the forecast")
	}
	c.last = t
	return nil
}
