package sun

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// readTable reads a reference table as one map a row and fails when it is empty.
func readTable(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, h := range rows[0] {
			m[h] = row[i]
		}
		out = append(out, m)
	}
	return out
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func clock(t *testing.T, layout, s string, zone *time.Location) time.Time {
	t.Helper()
	v, err := time.ParseInLocation(layout, s, zone)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// The worked example of [RedaAndreas2004, appendix A.5]. The algorithm there is good to 0.0003 degrees; ours to 0.02.
func TestRedaAndreas2004(t *testing.T) {
	p := geo.Position{Lat: 39.742476, Lon: -105.1786}
	when := time.Date(2003, 10, 17, 12, 30, 30, 0, time.FixedZone("", -7*3600))
	s := At(when, p)
	zenith := s.Zenith() - Refraction(s.Elevation, 820*quantity.Hectopascal, 11)
	if math.Abs(zenith.Degrees()-50.11162) > 0.02 {
		t.Errorf("apparent zenith %.5f, want 50.11162", zenith)
	}
	if math.Abs(s.Azimuth.Degrees()-194.34024) > 0.02 {
		t.Errorf("azimuth %.5f, want 194.34024", s.Azimuth)
	}
	// half a unit of the last printed digit
	if r := Refraction(39.872046, 820*quantity.Hectopascal, 11); math.Abs(r.Degrees()-0.016332) > 5e-7 {
		t.Errorf("refraction %.7f, want 0.016332", r)
	}
	// the series leaves out the moon's pull, which moves the Earth by up to 3.1e-5 AU, and the planets', 2e-5
	if d := Distance(when); math.Abs(d-0.9965423) > 5e-5 {
		t.Errorf("distance %.7f AU, want 0.9965423", d)
	}
	// The example's rise and set are those of the universal day: the sunset printed under 17 October is the one at
	// 00:20 UT, still the 16th by the local clock. The 17th's is 88 s earlier.
	sunrise := EventsOn(2003, 10, 17, p, when.Location()).Sunrise.Time
	if want := time.Date(2003, 10, 17, 6, 12, 43, 0, when.Location()); sunrise.Sub(want).Abs() > 30*time.Second {
		t.Errorf("sunrise %v, want %v", sunrise, want)
	}
	sunset := EventsOn(2003, 10, 16, p, when.Location()).Sunset.Time
	if want := time.Date(2003, 10, 16, 17, 20, 19, 0, when.Location()); sunset.Sub(want).Abs() > 30*time.Second {
		t.Errorf("sunset %v, want %v", sunset, want)
	}
}

func TestPositionAgainstERFA(t *testing.T) {
	worst := 0.0
	for _, row := range readTable(t, "sun_position.csv") {
		p := geo.Position{Lat: number(t, row["lat"]), Lon: number(t, row["lon"])}
		s := At(clock(t, time.RFC3339, row["utc"], time.UTC), p)
		z, a := number(t, row["true_zenith_deg_erfa"]), number(t, row["azimuth_deg_erfa"])
		dz := math.Abs(s.Zenith().Degrees() - z)
		da := math.Abs(math.Remainder(s.Azimuth.Degrees()-a, 360)) * math.Sin(z*math.Pi/180)
		worst = max(worst, dz, da)
		if dz > 0.02 || da > 0.02 {
			t.Errorf("%v %s: zenith off by %.4f, azimuth by %.4f", p, row["utc"], dz, da)
		}
	}
	t.Logf("worst angle %.4f degrees", worst)
}

func TestEventsAgainstEphem(t *testing.T) {
	worst := time.Duration(0)
	for _, row := range readTable(t, "sun_events.csv") {
		p := geo.Position{Lat: number(t, row["lat"]), Lon: number(t, row["lon"])}
		zone := time.FixedZone("", int(math.Round(p.Lon/15))*3600)
		date := clock(t, "2006-1-2", row["local_solar_date"], zone)
		d := EventsOn(date.Year(), date.Month(), date.Day(), p, zone)
		tol := 20 * time.Second
		if p.Lat > 65 {
			tol = 60 * time.Second
		}
		for column, e := range map[string]Event{
			"astro_dawn18": d.AstronomicalDawn, "nautical_dawn12": d.NauticalDawn, "civil_dawn6": d.CivilDawn, "sunrise": d.Sunrise, "transit": {Time: d.Transit},
			"sunset": d.Sunset, "civil_dusk6": d.CivilDusk, "nautical_dusk12": d.NauticalDusk, "astro_dusk18": d.AstronomicalDusk,
		} {
			if (row[column] == "") != (e.Passage != Happens) {
				t.Errorf("%v %s %s: %v, want %q", p, row["local_solar_date"], column, e.Passage, row[column])
				continue
			}
			if e.Passage != Happens {
				continue
			}
			off := e.Time.Sub(clock(t, time.RFC3339, row[column], time.UTC))
			worst = max(worst, off.Abs())
			if off.Abs() > tol {
				t.Errorf("%v %s %s: off by %v", p, row["local_solar_date"], column, off)
			}
		}
		if want := number(t, row["transit_alt_deg"]); math.Abs(d.NoonElevation.Degrees()-want) > 0.02 {
			t.Errorf("%v %s: noon elevation %.3f, want %.3f", p, row["local_solar_date"], d.NoonElevation, want)
		}
		if row["daylength_min"] == "" {
			if d.Length() != 0 || !d.NeverRises() || d.NeverSets() {
				t.Errorf("%v %s: day of %v where the sun never rises", p, row["local_solar_date"], d.Length())
			}
		} else if off := d.Length().Minutes() - number(t, row["daylength_min"]); math.Abs(off) > 2*tol.Minutes() {
			t.Errorf("%v %s: day length off by %.2f min", p, row["local_solar_date"], off)
		}
	}
	t.Logf("worst time %v", worst)
}

func TestUSNO(t *testing.T) {
	for _, row := range readTable(t, "usno_published.csv") {
		t.Run(row["source_table"]+" "+row["date"], func(t *testing.T) {
			p := geo.Position{Lat: number(t, row["lat"]), Lon: number(t, row["lon"])}
			zone := time.FixedZone("", int(number(t, row["utc_offset_h"]))*3600)
			date := clock(t, "2006-01-02", row["date"], zone)
			d := EventsOn(date.Year(), date.Month(), date.Day(), p, zone)
			for column, e := range map[string]Event{"sunrise_local": d.Sunrise, "sunset_local": d.Sunset} {
				want := clock(t, "2006-01-02 15:04", row["date"]+" "+row[column], zone)
				if off := e.Time.Sub(want).Abs(); off > time.Minute {
					t.Errorf("%s %v, want %s", column, e.Time, row[column])
				}
			}
		})
	}
}

// Far north: the definitions of [USNOGlossary] leave no sunset in June at 69 N and no civil night at 64.8 N, where
// the sun sets after midnight.
func TestPolarCases(t *testing.T) {
	d := EventsOn(2026, 6, 21, geo.Position{Lat: 69, Lon: 27}, time.FixedZone("", 3*3600))
	if !d.NeverSets() || d.NeverRises() || d.Length() != 24*time.Hour || !d.NoCivilNight() || d.AstronomicalDusk.Passage != StaysAbove {
		t.Errorf("midsummer at 69 N: %+v", d)
	}
	d = EventsOn(2026, 6, 21, geo.Position{Lat: 64.8167, Lon: -147.8667}, time.FixedZone("", -8*3600))
	if !d.NoCivilNight() || d.Sunset.Passage != Happens || d.Sunset.Time.Day() != 22 || d.Sunrise.Time.Day() != 21 {
		t.Errorf("midsummer at 64.8 N: %+v", d)
	}
	d = EventsOn(2025, 12, 21, geo.Position{Lat: 85, Lon: 0}, time.UTC)
	if !d.NeverRises() || d.Length() != 0 || d.CivilDawn.Passage != StaysBelow || d.NoCivilNight() {
		t.Errorf("midwinter at 85 N: %+v", d)
	}
}

// Events of a day come in order, and the sun stands at the defining elevation when it passes it.
func TestEventOrder(t *testing.T) {
	rng := num.NewStream(20260115, "sun")
	for range 500 {
		p := geo.Position{Lat: rng.Float64()*130 - 65, Lon: rng.Float64()*360 - 180}
		zone := time.FixedZone("", int(math.Round(p.Lon/15))*3600)
		d := EventsOn(2026, 1, 1+rng.IntN(365), p, zone)
		events := []Event{d.AstronomicalDawn, d.NauticalDawn, d.CivilDawn, d.Sunrise, {Time: d.Transit}, d.Sunset, d.CivilDusk, d.NauticalDusk, d.AstronomicalDusk}
		heights := []quantity.Angle{Astronomical, Nautical, Civil, RiseSet, d.NoonElevation, RiseSet, Civil, Nautical, Astronomical}
		var last time.Time
		for i, e := range events {
			if e.Passage != Happens {
				continue
			}
			if e.Time.Before(last) {
				t.Fatalf("%v: event %d before its forerunner", p, i)
			}
			last = e.Time
			if h := At(e.Time, p).Elevation; math.Abs(float64(h-heights[i])) > 0.001 {
				t.Fatalf("%v: event %d at elevation %v, want %v", p, i, h, heights[i])
			}
		}
		for _, h := range []time.Duration{-6 * time.Hour, -time.Hour, time.Hour, 6 * time.Hour} {
			if At(d.Transit.Add(h), p).Elevation > d.NoonElevation+0.001 {
				t.Fatalf("%v: higher than at transit", p)
			}
		}
	}
}

func TestClearSkyAndAirMass(t *testing.T) {
	if ClearSky(0) != 0 || ClearSky(-3) != 0 {
		t.Error("sunlight with the sun down")
	}
	for e := quantity.Angle(1); e <= 90; e++ {
		if ClearSky(e) <= ClearSky(e-1) {
			t.Errorf("clear sky falls at %v", e)
		}
		if AirMass(90-e) >= AirMass(91-e) {
			t.Errorf("air mass rises at %v", e)
		}
	}
	if s := (Sky{Elevation: RiseSet}); math.Abs(s.Apparent().Degrees()+0.27) > 0.08 { // 16' radius below the horizon: upper limb on it
		t.Errorf("apparent elevation at sunrise %.3f", s.Apparent())
	}
}
