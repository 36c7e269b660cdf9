package safety

import (
	"math"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/trade/lake"
)

// Test holes every 30 m on a lake, every 15 m over flowing water [Barrhead], from both sides.
func TestTestedAlong(t *testing.T) {
	line := []geo.Local{{E: 0}, {E: 60}, {E: 60, N: 60}}
	every := func(apart float64) (in IceInput) {
		in = foot()
		in.Readings = nil
		for walked := apart / 2; walked < 120; walked += apart {
			p := geo.Local{E: math.Min(walked, 60), N: math.Max(0, walked-60)}
			in.Readings = append(in.Readings, read(p.E, p.N, 40*cm, at(8, 0)))
		}
		return in
	}
	for _, c := range []struct {
		name     string
		apart    float64
		change   func(*IceInput)
		untested float64
		first    float64
	}{
		{"every 30 m", 30, func(*IceInput) {}, 0, 0},
		{"every 40 m", 40, func(*IceInput) {}, 30, 0},
		{"one left out", 30, func(in *IceInput) { in.Readings = append(in.Readings[:1], in.Readings[2:]...) }, 30, 30},
		{"one of yesterday", 30, func(in *IceInput) { in.Readings[3].When = at(8, 0).AddDate(0, 0, -1) }, 30, 90},
		{"one grey", 30, func(in *IceInput) { in.Readings[3].Grey = true }, 30, 90},
		{"one ahead of the clock", 30, func(in *IceInput) { in.Readings[0].When = at(11, 0) }, 30, 0},
		{"a crack since", 30, func(in *IceInput) { in.Hazards = []*lake.Hazard{crackAt(60, 75, at(9, 0))} }, 30, 90},
		{"over current", 30, func(in *IceInput) {
			in.Hazards = []*lake.Hazard{{What: "narrows", Points: []geo.Local{{E: 30, N: -99}}, When: at(7, 0)}}
		}, 60, 0},
		{"current farther off", 30, func(in *IceInput) {
			in.Hazards = []*lake.Hazard{{What: "narrows", Points: []geo.Local{{E: 30, N: -101}}, When: at(7, 0)}}
		}, 0, 0},
		{"every 15 m over current", 15, func(in *IceInput) {
			in.Hazards = []*lake.Hazard{{What: "narrows", Points: []geo.Local{{E: 30, N: -99}}, When: at(7, 0)}}
		}, 0, 0},
		{"nothing read", 30, func(in *IceInput) { in.Readings = nil }, 120, 0},
	} {
		in := every(c.apart)
		c.change(&in)
		got := TestedAlong(line, in)
		if math.Abs(got.Length.Metres()-120) > 1e-9 || math.Abs(got.Untested.Metres()-c.untested) > 5 || c.untested > 0 && math.Abs(got.First.Metres()-c.first) > 1 {
			t.Errorf("%s: %+v, want %v untested from %v", c.name, got, c.untested, c.first)
		}
	}
	in := every(30)
	in.Hazards = []*lake.Hazard{crackAt(30, 5, at(7, 0)), crackAt(30, 50, at(7, 0))}
	in.Hazards[0].Radius = 10
	if got := TestedAlong(line, in); got.Hazards != 1 {
		t.Errorf("%d hazards on the line", got.Hazards)
	}
	if got := TestedAlong(nil, in); got.Length != 0 || got.Untested != 0 {
		t.Errorf("no line: %+v", got)
	}
}

// Of the holes of a week those of today speak, for 30 m or for 15 where water flows [Barrhead]; bad ones say so.
func TestReadPlaces(t *testing.T) {
	in := foot()
	in.Readings = []*lake.IceReading{read(0, 0, 41*cm, at(8, 0)), read(500, 0, 40*cm, at(8, 0)), read(900, 0, 40*cm, at(8, 0).AddDate(0, 0, -2)), read(1300, 0, 40*cm, at(8, 0).AddDate(0, 0, -8)),
		read(1700, 0, 40*cm, at(8, 0)), read(2100, 0, 40*cm, at(8, 0))}
	in.Readings[1].Grey, in.Readings[4].Current = true, true
	in.Hazards = []*lake.Hazard{crackAt(2100, 20, at(9, 0)), {What: "spring", Points: []geo.Local{{N: 100}}, When: at(7, 0)}}
	got := ReadPlaces(in)
	if len(got) != 4 {
		t.Fatalf("%d places: %+v", len(got), got)
	}
	for i, want := range []ReadPlace{{in.Readings[0], 15, ""}, {in.Readings[1], 0, "grey"}, {in.Readings[2], 0, ""}, {in.Readings[4], 15, ""}} {
		if got[i] != want {
			t.Errorf("%d: %+v, want %+v", i, got[i], want)
		}
	}
	in.Hazards = nil
	if got = ReadPlaces(in); got[0].Speaks != 30 {
		t.Errorf("no flow near: %v", got[0].Speaks)
	}
}
