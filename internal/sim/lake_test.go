package sim

import (
	"math"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/chart"
	"icehand/internal/feed/file"
	"icehand/internal/feed/weather"
)

// sweep calls fn for the places of a square lattice over the lake.
func sweep(l *Lake, stepM float64, fn func(geo.Local)) {
	for e := -spanE/2 + stepM/2; e < spanE/2; e += stepM {
		for n := -spanN/2 + stepM/2; n < spanN/2; n += stepM {
			if p := (geo.Local{E: e, N: n}); l.Water(p) {
				fn(p)
			}
		}
	}
}

// The figures that the made-up lake was described with: 31 by 17 km, about 390 km2, mean 8.1 m, at most 15.2 m.
func TestLakeIsAsDescribed(t *testing.T) {
	for _, seed := range []uint64{1, 2, 3} {
		l := NewLake(seed)
		count, sum, most := 0.0, 0.0, 0.0
		sweep(l, 150, func(p geo.Local) {
			d := l.Depth(p).Metres()
			count, sum, most = count+1, sum+d, math.Max(most, d)
		})
		if km2 := count * 0.15 * 0.15; math.Abs(km2-390) > 15 {
			t.Errorf("seed %d: area %.0f km2, want about 390", seed, km2)
		}
		if mean := sum / count; math.Abs(mean-8.1) > 0.2 {
			t.Errorf("seed %d: mean depth %.2f m, want about 8.1", seed, mean)
		}
		if math.Abs(most-15.2) > 0.15 {
			t.Errorf("seed %d: deepest %.2f m, want 15.2", seed, most)
		}
		for name, x := range map[string]struct {
			at     geo.Local
			lo, hi float64
		}{
			"Cinder Bar": {cinderBar.at, 6.0, 6.2}, "Owl Trough": {owlTrough.at, 15.1, 15.3}, "Saltbox Reef": {saltboxReef.at, 2.8, 3.2},
			"Long Flat, south": {geo.Local{E: -2800, N: -10900}, 10.2, 10.7}, "Long Flat, north": {geo.Local{E: -2800, N: 2900}, 11.6, 12.1},
			"base": {l.Base, 10.75, 10.85}, "land": {geo.Local{E: -8600}, 0, 0},
		} {
			if d := l.Depth(x.at).Metres(); d < x.lo || d > x.hi {
				t.Errorf("seed %d: %s is %.2f m deep, want %.2f to %.2f", seed, name, d, x.lo, x.hi)
			}
		}
		if !l.Water(l.C2) || l.Water(islands[0].At) {
			t.Errorf("seed %d: the crossing must lie on water and the island must not", seed)
		}
	}
}

// The Shelf: 4 m and then 9 m within a few hundred metres of the western bank.
func TestShelf(t *testing.T) {
	l := NewLake(1)
	at := func(shoreM float64) float64 {
		best, miss := 0.0, 1e9
		for e := -8500.0; e < -5500; e += 5 {
			p := geo.Local{E: e, N: -1000}
			if off := math.Abs(l.Outline.ShoreDistance(p) - shoreM); l.Water(p) && off < miss {
				best, miss = l.Depth(p).Metres(), off
			}
		}
		return best
	}
	if d := at(350); d < 3.4 || d > 4.5 {
		t.Errorf("350 m out it is %.1f m deep, want about 4", d)
	}
	if d := at(720); d < 8.2 || d > 9.8 {
		t.Errorf("720 m out it is %.1f m deep, want about 9", d)
	}
}

func TestWeakIceAndBasin(t *testing.T) {
	l := NewLake(1)
	at := clock(today, 9, 0)
	if cm := l.Ice(l.Base, at).Centimetres(); cm < 40 || cm > 47 {
		t.Errorf("ice at the base is %.1f cm, want 41 to 46", cm)
	}
	for _, o := range l.Springs {
		if cm := l.Ice(o.At, at).Centimetres(); cm > 10 {
			t.Errorf("ice over a spring is %.1f cm thick", cm)
		}
	}
	middle := geo.Local{E: (l.Throat[0].E + l.Throat[1].E) / 2, N: (l.Throat[0].N + l.Throat[1].N) / 2}
	if cm := l.Ice(middle, at).Centimetres(); cm > 15 {
		t.Errorf("ice in The Throat is %.1f cm thick", cm)
	}
}

// Our own parsers must read the files that the demo brings, with the options that its layers state.
func TestFilesAreReadable(t *testing.T) {
	l := NewLake(1)
	outline, _, err := chart.ReadOutline("outline.geojson", l.OutlineGeoJSON(), file.Options{})
	if err != nil || len(outline.Polygons) != 1 || len(outline.Polygons[0].Islands) != 2 {
		t.Fatalf("outline: %v, %d polygons", err, len(outline.Polygons))
	}
	data, rows := l.SoundingsCSV(1)
	if _, _, err := chart.ReadSoundings("chart.csv", data, file.Options{}); err == nil {
		t.Error("soundings without a stated unit were taken")
	}
	s, preview, err := chart.ReadSoundings("chart.csv", data, file.Options{Unit: "ft", Map: map[string]string{"Sounding": "depth"}})
	if err != nil || len(s.Points) != rows || rows < 2000 {
		t.Fatalf("soundings: %v, %d of %d points, %+v", err, len(s.Points), rows, preview.Problems)
	}
	ratio, n := 0.0, 0.0
	for _, p := range s.Points {
		at := l.Frame.Local(p.Pos)
		if feet := p.Depth.Feet(); math.Abs(feet-math.Round(feet)) > 1e-6 {
			t.Fatalf("sounding of %.3f ft", feet)
		}
		if d := l.ChartDepth(at).Metres(); d > 8 {
			ratio, n = ratio+p.Depth.Metres()/d, n+1
		}
	}
	if r := ratio / n; math.Abs(r-1.08) > 0.005 {
		t.Errorf("the chart is %.3f times too deep, want 1.08", r)
	}
	if gap := l.ChartDepth(cinderBar.at) - l.Depth(cinderBar.at); gap < 2*quantity.Metre {
		t.Errorf("the chart knows the crest of Cinder Bar to %.1f m", gap.Metres())
	}
}

func TestForecastIsReadable(t *testing.T) {
	issued := clock(today, 4, 12)
	f, preview, err := weather.Read("forecast.json", ForecastJSON(issued), file.Options{Zone: zone})
	if err != nil || len(f.Hours) != forecastHours || !f.Issued.Equal(issued) {
		t.Fatalf("forecast: %v, %d hours, issued %s, %+v", err, len(f.Hours), f.Issued, preview.Problems)
	}
	for _, h := range f.Hours {
		if h.Temperature == nil || h.Wind == nil || h.Gust == nil || h.WindFrom == nil || h.Sky == nil || h.Snow == nil || h.Visibility == nil {
			t.Fatalf("hour %s has gaps", h.Start)
		}
		shifted := !h.Start.Before(clock(today, 17, 0))
		if day := h.Start.Before(clock("2026-01-16", 6, 0)); day && shifted != (h.WindFrom.Degrees() > 300 && h.Wind.KilometresPerHour() > 20) {
			t.Errorf("hour %s: wind %.0f km/h from %.0f", h.Start.In(zone), h.Wind.KilometresPerHour(), h.WindFrom.Degrees())
		}
	}
	if c := Air(clock(today, 7, 0)); c != -17 {
		t.Errorf("air at 07:00 is %.1f C, want -17 C", c.Degrees())
	}
	if c := Air(clock(today, 15, 0)); c != -11 {
		t.Errorf("air at 15:00 is %.1f C, want -11 C", c.Degrees())
	}
}
