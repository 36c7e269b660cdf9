package weather

import (
	"testing"
	"time"

	"icehand/internal/feed/file"
)

// A unit that is not known refuses the answer even where every other value could be read; a value that the service itself
// doubts, and null, stay unknown; what cannot be on Earth is refused by its row.
func TestReadingsFromBothSides(t *testing.T) {
	reading := func(stamp, values string) []byte {
		return []byte(`{"features":[{"properties":{"timestamp":"` + stamp + `",` + values + `}}]}`)
	}
	const stamp = "2026-01-14T17:53:00+00:00"
	for name, c := range map[string]struct {
		data    []byte
		taken   int
		refused bool // the whole answer
	}{
		"by the new prefix":      {reading(stamp, `"temperature":{"unitCode":"wmoUnit:degC","value":-5}`), 1, false},
		"by the old prefix":      {reading(stamp, `"temperature":{"unitCode":"unit:degC","value":-5}`), 1, false},
		"no unit":                {reading(stamp, `"temperature":{"value":-5}`), 0, true},
		"no unit and no value":   {reading(stamp, `"temperature":{"value":null}`), 0, false},
		"knots":                  {reading(stamp, `"windSpeed":{"unitCode":"wmoUnit:kt","value":12},"temperature":{"unitCode":"wmoUnit:degC","value":-5}`), 0, true},
		"rejected by a check":    {reading(stamp, `"temperature":{"unitCode":"wmoUnit:degC","value":-5,"qualityControl":"X"}`), 0, false},
		"screened":               {reading(stamp, `"temperature":{"unitCode":"wmoUnit:degC","value":-5,"qualityControl":"S"}`), 1, false},
		"warmer than ever":       {reading(stamp, `"temperature":{"unitCode":"wmoUnit:degC","value":60.1}`), 0, false},
		"no time":                {reading("yesterday", `"temperature":{"unitCode":"wmoUnit:degC","value":-5}`), 0, false},
		"a problem":              {[]byte(`{"title":"Not Found","status":404}`), 0, true},
		"a list that is no list": {[]byte(`{"features":{}}`), 0, true},
	} {
		list, _, err := ReadReadings(c.data, file.Options{})
		if len(list) != c.taken || (err != nil) != c.refused {
			t.Errorf("%s: %d taken, %v", name, len(list), err)
		}
	}
}

func TestStations(t *testing.T) {
	list, err := ReadStations(payload(t, "nws_stations.json"), file.Options{})
	if err != nil || len(list) != 3 || list[0].ID != "KZZB" || list[0].At.Lat != 46.4 || list[0].At.Lon != -94.1 {
		t.Errorf("%+v, %v", list, err)
	}
	list, err = ReadStations([]byte(`{"features":[{"properties":{"stationIdentifier":"../points"},"geometry":{"coordinates":[1,2]}},{"properties":{"stationIdentifier":"KZZA"},"geometry":null},
		{"properties":{"stationIdentifier":"KZZA","name":"A\u001b[2J\u202eB"},"geometry":{"coordinates":[1,2]}},{"properties":{"stationIdentifier":"KZZA"},"geometry":{"coordinates":[1,200]}}]}`), file.Options{})
	if err != nil || len(list) != 1 || list[0].Name != "A[2JB" {
		t.Errorf("%+v, %v", list, err)
	}
	if _, err := ReadStations([]byte(`{"title":"Not Found"}`), file.Options{}); err == nil {
		t.Error("a problem is taken for stations")
	}
}

// Whatever the bytes, reading stations and readings does not panic; readings are in order, each instant once and within
// bounds; and rows taken, refused and blank do not exceed the rows read.
func FuzzReadings(f *testing.F) {
	f.Add(payload(f, "nws_observations.json"))
	f.Add(payload(f, "nws_stations.json"))
	f.Fuzz(func(t *testing.T, data []byte) {
		stations, err := ReadStations(data, file.Options{})
		for _, s := range stations {
			if err != nil || !s.At.Valid() || !stationID.MatchString(s.ID) {
				t.Errorf("%+v, %v", s, err)
			}
		}
		list, p, err := ReadReadings(data, file.Options{})
		if p.Taken+p.Blank > p.Rows || err != nil && len(list) > 0 || len(list) > p.Taken {
			t.Errorf("%+v, %d readings, %v", p, len(list), err)
		}
		for i, r := range list {
			if i > 0 && !r.When.After(list[i-1].When) || r.When.Location() != time.UTC || r.Temperature != nil && (*r.Temperature < -90 || *r.Temperature > 60) ||
				r.Wind != nil && (*r.Wind < 0 || *r.Wind > 120) || r.WindFrom != nil && r.Wind == nil {
				t.Errorf("%+v", r)
			}
		}
	})
}
