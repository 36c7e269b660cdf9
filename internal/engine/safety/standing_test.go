package safety

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/icecover"
	"icehand/internal/physics/ice"
	"icehand/internal/trade/lake"
)

// on gives loads of one mass in a row, some metres apart.
func on(n int, mass quantity.Mass, apart float64, since time.Time) []OnIce {
	var out []OnIce
	for i := range n {
		out = append(out, OnIce{What: "sled", Mass: mass, At: geo.Local{E: apart * float64(i)}, Since: since})
	}
	return out
}

// thin asks about ice of 10 cm with a table that asks for as much, so that the formula decides: 350 kg.
func thin() IceInput {
	in := foot()
	in.Readings[0].Total = 10 * cm
	in.Table = Table{Agency: "test", Least: map[string]quantity.Length{"on_foot": 10 * cm}}
	return in
}

// Calling all to one hole on 10 cm makes them one load: four people of 100 kg within a metre are above the 350 kg of
// the formula, and phi(1) = 0.630 at one characteristic length, 2.63 m for 5 GPa.
func TestCrowdAtOneHole(t *testing.T) {
	for _, c := range []struct {
		apart    float64
		others   int
		together float64
		state    IceState
	}{{0, 0, 100, NotBelow}, {0, 2, 300, NotBelow}, {0, 3, 400, BelowRule}, {2.629, 1, 163.0, NotBelow}, {40, 3, 100, NotBelow}} {
		in := thin()
		in.Load.Mass, in.Standing = 100, on(c.others, 100, 0, time.Time{})
		for i := range in.Standing {
			in.Standing[i].At.E = c.apart
		}
		a := Ice(in)
		if a.State != c.state || math.Abs(a.Together.Kilograms()-c.together) > 0.1 {
			t.Errorf("%d others %v m off: %s, together %v", c.others, c.apart, a.State, a.Together)
		}
		if near := c.others > 0 && c.apart < 20; near != strings.Contains(codes(a.Refusals), "together") || near != (a.Near == c.others && a.Near > 0) {
			t.Errorf("%d others %v m off: %d near, %s", c.others, c.apart, a.Near, codes(a.Refusals))
		}
	}
}

// What stands together weighs no less than one's own load, less the farther it stands apart, and never takes anything off.
func TestTogetherFallsWithSpacing(t *testing.T) {
	rng := num.NewStream(8, "together")
	for range 500 {
		in := thin()
		in.Readings[0].Total = quantity.Length(8+50*rng.Float64()) * cm
		apart := 20 * rng.Float64()
		weigh := func(apart float64) quantity.Mass {
			in.Standing = on(4, 300, apart, time.Time{})
			return Ice(in).Together
		}
		if a, b := weigh(apart), weigh(apart+0.5); a < in.Load.Mass || b > a {
			t.Fatalf("%v apart %v, then %v, own %v", apart, a, b, in.Load.Mass)
		}
	}
}

// Two hours, from both sides: beyond them the formula asks for the thickness of standing loads, 4 * 2 * sqrt(W) in inches
// and short tons [Smith2004].
func TestStandingClock(t *testing.T) {
	for _, c := range []struct {
		since   time.Time
		overdue bool
		carries float64
	}{{at(8, 0), false, 3.5 * 41 * 41}, {at(7, 51), false, 3.5 * 41 * 41}, {at(7, 50), true, 3.5 * 41 * 41}, {at(7, 49), true, 2.197 * 41 * 41}} {
		in := foot()
		in.Standing = on(1, 2000, 0, c.since)
		s := Standing(in)
		if len(s) != 1 || s[0].Overdue != c.overdue || math.Abs(s[0].Carries.Kilograms()-c.carries) > 1 || !s[0].Due.Equal(c.since.Add(2*time.Hour)) || s[0].Over {
			t.Errorf("since %v: %+v", c.since, s)
		}
	}
	in := foot()
	in.Standing = []OnIce{{What: "people", Mass: 110}, {What: "van", Mass: 2000, Since: at(10, 0)}}
	if s := Standing(in); len(s) != 0 {
		t.Errorf("what walks about or comes later has no clock: %+v", s)
	}
	if h := (ice.Strength{}).StandingStrength().Required(2000); ice.SmithThickness(2000, 2)-h > 0.1*cm {
		t.Errorf("%v, the source asks for %v", h, ice.SmithThickness(2000, 2))
	}
}

// A neighbour that has stood too long makes the stated load's figure that of standing loads; far off it does not.
func TestStandingNeighbour(t *testing.T) {
	for apart, standing := range map[float64]bool{5: true, 200: false} {
		in := foot()
		in.Standing = []OnIce{{What: "shelter", Mass: 150, At: geo.Local{E: apart}, Since: at(6, 0)}}
		if a := Ice(in); strings.Contains(codes(a.Refusals), "standing") != standing {
			t.Errorf("%v m off: %s", apart, codes(a.Refusals))
		}
	}
	for stay, standing := range map[time.Duration]bool{2 * time.Hour: false, 121 * time.Minute: true} {
		in := foot()
		in.Load.Stay = stay
		if a := Ice(in); strings.Contains(codes(a.Refusals), "standing") != standing {
			t.Errorf("to stay %v: %s", stay, codes(a.Refusals))
		}
	}
}

// 205 kg bring the water to the rim of bare ice of 10 cm, which floats 8.3 mm high, once it has crept (1 GPa).
func TestRim(t *testing.T) {
	for _, c := range []struct {
		mass  quantity.Mass
		water quantity.Length
		told  bool
		rim   Rim
	}{{204, 0.0083, true, RimAbove}, {207, 0.0083, true, RimReached}, {1, -0.01, true, RimReached}, {204, 0, false, RimUnknown}} {
		in := thin()
		in.Readings[0].Water, in.Readings[0].WaterTold = c.water, c.told
		in.Standing = on(1, c.mass, 0, at(9, 0))
		if s := Standing(in)[0]; s.Rim != c.rim || c.water > 0 && math.Abs(s.RimLoad.Kilograms()-205) > 2 {
			t.Errorf("%v kg, water %v: %s of %v", c.mass, c.water, s.Rim, s.RimLoad)
		}
	}
	two := thin()
	two.Readings[0].Water, two.Readings[0].WaterTold = 0.0083, true
	two.Standing = on(2, 120, 1, at(9, 0))
	if s := Standing(two); s[0].Rim != RimReached || s[1].Rim != RimReached {
		t.Errorf("two of 120 kg a metre apart: %+v", s)
	}
	no := foot()
	no.Readings = nil
	no.Standing = on(1, 500, 0, at(9, 0))
	if s := Standing(no)[0]; s.Carries != 0 || s.Rim != RimUnknown || codes(s.Refusals) != "no_reading" {
		t.Errorf("nothing read: %+v", s)
	}
}

// Vehicles keep 50 ft, 15.24 m [MNDNRTable].
func TestVehicleSpacing(t *testing.T) {
	for _, c := range []struct {
		apart float64
		mass  quantity.Mass
		near  bool
	}{{15.2, 2000, true}, {15.3, 2000, false}, {15.2, 899, false}, {0, 2000, true}} {
		in := foot()
		in.Readings[0].At = geo.Local{}
		in.Standing = on(2, c.mass, c.apart, at(9, 0))
		if s := Standing(in); (s[0].TooNear > 0) != c.near || (s[1].TooNear > 0) != c.near {
			t.Errorf("%v m apart, %v: %v %v", c.apart, c.mass, s[0].TooNear, s[1].TooNear)
		}
		in.Load = Load{Class: "car", Mass: c.mass}
		in.Standing = in.Standing[1:]
		if a := Ice(in); strings.Contains(codes(a.Refusals), "vehicle_spacing") != c.near {
			t.Errorf("%v m apart, %v: %s", c.apart, c.mass, codes(a.Refusals))
		}
	}
}

func TestHoleCluster(t *testing.T) {
	for _, c := range []struct {
		n        int
		reach    float64
		diameter quantity.Length
		days     int
		crack    bool
	}{{6, 3, 20 * cm, 0, true}, {5, 3, 20 * cm, 0, false}, {6, 3.1, 20 * cm, 0, false}, {6, 3, 19 * cm, 0, false}, {6, 3, 0, 0, true}, {6, 3, 20 * cm, -2, true}, {6, 3, 20 * cm, -4, false}} {
		in := foot()
		for range c.n {
			in.Holes = append(in.Holes, &lake.Hole{Placed: true, At: geo.Local{N: c.reach}, Diameter: c.diameter, Drilled: at(9, 0).AddDate(0, 0, c.days)})
		}
		a := Ice(in)
		if got := strings.Contains(codes(a.Refusals), "hole_cluster"); got != c.crack || got != (a.Asked > 20*cm) {
			t.Errorf("%+v: %s, asked %v", c, codes(a.Refusals), a.Asked)
		}
	}
}

// A vehicle in motion is told limits, never a speed to reach; on foot there are none.
func TestMovingLimits(t *testing.T) {
	in := foot()
	in.Load, in.Readings[0].Total, in.Depth = Load{Class: "car", Mass: 2000}, 45*cm, 2
	a := Ice(in)
	if a.Moving == nil || a.Moving.Limit > a.Moving.Band.Low || a.Moving.Shore > a.Moving.Limit || !a.Moving.DepthKnown {
		t.Fatalf("%+v", a.Moving)
	}
	// in water under 3 m the waves run at sqrt(g H): 16 km/h at 2 m
	if math.Abs(a.Moving.Band.High.KilometresPerHour()-15.94) > 0.2 {
		t.Errorf("band %v", a.Moving.Band)
	}
	if b := Ice(foot()); b.Moving != nil {
		t.Error("limits of speed on foot")
	}
	in.Readings[0].Total = 39 * cm
	if b := Ice(in); b.State != BelowTable || b.Moving != nil {
		t.Error("limits for a load that is to stay off")
	}
	in.Readings = nil
	if b := Ice(in); b.Moving != nil {
		t.Error("limits without any reading")
	}
}

// At its own hole a reading of 18 cm stands above the 15 cm of the table and one of 17 does not, and 30 m from the hole
// one of 19 cm does not either; three holes of 18 make the place surer.
func TestLowEndDecides(t *testing.T) {
	in := foot()
	in.Cover = Cover{}
	for _, c := range []struct {
		drilled  quantity.Length
		distance float64
		state    IceState
	}{{18 * cm, 0, NotBelow}, {17 * cm, 0, BelowTable}, {18 * cm, 10, BelowTable}, {19 * cm, 30, BelowTable}, {20 * cm, 30, NotBelow}} {
		in.Readings = []*lake.IceReading{read(0, c.distance, c.drilled, at(9, 45))}
		a := Ice(in)
		if a.State != c.state || a.Basis.Least != c.drilled || !(a.Effective < c.drilled) || a.Basis.Column != nil {
			t.Errorf("%v, %v m off: %s %+v", c.drilled, c.distance, a.State, a.Basis)
		}
	}
	in.Readings = []*lake.IceReading{read(0, 5, 18*cm, at(8, 0))}
	in.Readings = append(in.Readings, read(8, 0, 18*cm, at(8, 0)), read(-8, 0, 18*cm, at(8, 0)))
	three := Ice(in)
	if three.State != NotBelow || !(three.Effective > 15*cm && three.Effective < 18*cm) || three.Basis.Holes != 3 {
		t.Errorf("three holes: %s %+v", three.State, three.Basis)
	}
	// a column that is surer of less pulls the figure down, and never above the thinnest hole
	for deciding, want := range map[quantity.Length]IceState{14 * cm: BelowTable, 60 * cm: NotBelow} {
		in.Cover.Columns = map[icecover.Zone]Column{icecover.Shore: {Estimate: icecover.Estimate{Deciding: deciding}}}
		if a := Ice(in); a.State != want || a.Effective > 18*cm || a.Basis.Column == nil || a.Effective < three.Effective != (deciding < 18*cm) {
			t.Errorf("column of %v: %s, figure %v, without it %v", deciding, a.State, a.Effective, three.Effective)
		}
	}
}

// Readings of the week count in the field of their own zone until something ends them.
func TestFieldAges(t *testing.T) {
	yesterday := at(8, 0).AddDate(0, 0, -1)
	base := func() IceInput {
		in := foot()
		in.Cover = Cover{Shore: func(p geo.Local) (quantity.Length, bool) { return quantity.Length(300 - p.E), true }}
		in.Readings = append(in.Readings, read(60, 0, 30*cm, yesterday))
		return in
	}
	for _, c := range []struct {
		name   string
		change func(*IceInput)
		holes  int
	}{
		{"both", func(*IceInput) {}, 2},
		{"eight days", func(in *IceInput) { in.Readings[1].When = yesterday.AddDate(0, 0, -7) }, 1},
		{"other zone", func(in *IceInput) { in.Readings[1].At.E = 101 }, 1},
		{"thaw a day ago", func(in *IceInput) {
			in.Cover.Events = []icecover.Event{{Cause: icecover.Thaw, From: yesterday.Add(time.Hour), Until: yesterday.Add(2 * time.Hour)}}
		}, 1},
		{"thaw before it was drilled", func(in *IceInput) {
			in.Cover.Events = []icecover.Event{{Cause: icecover.Thaw, From: yesterday.Add(-3 * time.Hour), Until: yesterday.Add(-time.Hour)}}
		}, 2},
		{"crack since", func(in *IceInput) { in.Hazards = []*lake.Hazard{crackAt(90, 0, at(7, 0))} }, 1},
		{"crack since, farther", func(in *IceInput) { in.Hazards = []*lake.Hazard{crackAt(91, 0, at(7, 0))} }, 2},
		{"crack before", func(in *IceInput) { in.Hazards = []*lake.Hazard{crackAt(90, 0, yesterday.Add(-time.Hour))} }, 2},
		{"same crack reported again", func(in *IceInput) {
			in.Hazards = []*lake.Hazard{crackAt(90, 0, at(7, 0))}
			in.Hazards[0].Supersedes = uuid.New()
		}, 2},
	} {
		in := base()
		c.change(&in)
		if a := Ice(in); a.Basis.Holes != c.holes || a.Basis.Zone != icecover.Open {
			t.Errorf("%s: %d holes of zone %s, want %d", c.name, a.Basis.Holes, a.Basis.Zone, c.holes)
		}
	}
	in := foot() // a new crack beside this morning's hole ends it at once
	in.Hazards = []*lake.Hazard{crackAt(40, 0, at(9, 0))}
	if a := Ice(in); a.State != NoData || codes(a.Refusals) != "aged" {
		t.Errorf("%s %s", a.State, codes(a.Refusals))
	}
}

func crackAt(e, n float64, when time.Time) *lake.Hazard {
	return &lake.Hazard{What: "crack", Shape: "point", Points: []geo.Local{{E: e, N: n}}, Report: "present", When: when}
}

// Whatever ends a reading is said in words.
func TestAgedTexts(t *testing.T) {
	yesterday := at(9, 0).AddDate(0, 0, -1)
	for _, cause := range []icecover.Cause{icecover.Thaw, icecover.Rain, icecover.HeavySnow, icecover.Unknown, icecover.BrokenUp, icecover.LevelChanged} {
		in := foot()
		in.Readings[0].When = at(0, 10)
		in.Air = nil
		in.Cover.Events = []icecover.Event{{Cause: cause, From: yesterday, Until: at(0, 20)}}
		in.Now = at(23, 59)
		atOnce := cause == icecover.BrokenUp || cause == icecover.LevelChanged
		if a := Ice(in); strings.Contains(codes(a.Refusals), "aged") != atOnce {
			t.Errorf("%s: ended within a day is not %v", cause, atOnce)
		}
		q := iceQuestion{in: in, list: judge(in.Readings, zone, in.Now), aging: cause}
		q.without(missAged, 30)
		if len(q.refused) != 1 || len(q.refused[0].Text) < 20 || len(q.refused[0].Text) > 90 {
			t.Errorf("%s: %+v", cause, q.refused)
		}
	}
}

// Open ice is parted into lee and blown ice once a wind prevails; the shore's zone stays the shore's.
func TestZoneByFetch(t *testing.T) {
	c := Cover{Shore: func(p geo.Local) (quantity.Length, bool) { return quantity.Length(p.E), true }}
	for _, x := range []struct {
		east    float64
		prevail bool
		want    icecover.Zone
	}{{500, false, icecover.Open}, {199, true, icecover.Shore}, {200, true, icecover.Lee}, {1000, true, icecover.Lee}, {1001, true, icecover.Windward}} {
		c.Fetch = nil
		if x.prevail {
			c.Fetch = func(p geo.Local) quantity.Length { return quantity.Length(p.E) }
		}
		if got := c.Zone(geo.Local{E: x.east}); got != x.want {
			t.Errorf("%v m off, prevailing %v: %s", x.east, x.prevail, got)
		}
	}
}
