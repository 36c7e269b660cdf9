package desk

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// readLine drills and reads holes northward from the landing, 500 m apart, ten minutes each.
func (b *bench) readLine(n int) (holes []uuid.UUID) {
	b.t.Helper()
	for i := range n {
		b.at(0, -2900+500*float64(i+1))
		p := b.here
		h, err := b.ReadIce(b.ctx, IceAct{Hole: HoleRef{Place: &p}, Reading: journal.Ice{Total: 420}})
		b.must(err)
		holes = append(holes, h)
		b.now = b.now.Add(10 * time.Minute)
	}
	return holes
}

// Beside this morning's line the guide tells the side and the way back to it; inside the corridor it leads on along the line; bearings by
// compass are 15 degrees more here, where the declination is 15 degrees west [MagneticField].
func TestGuideHome(t *testing.T) {
	b := newBench(t)
	b.readLine(3) // to N -1400
	b.at(-90, -1600)
	g, err := b.Guide(b.ctx, uuid.Nil, nil, uuid.Nil)
	b.must(err)
	if s := g.Steer; s.On || !s.Right || math.Abs(s.Off.Metres()-90) > 0.5 || math.Abs(s.Back.Degrees()-90) > 0.5 || math.Abs(s.Left.Metres()-(90+1300)) > 1 {
		t.Errorf("90 m west of a line that runs south: %+v", s)
	}
	if m := g.Field.Magnetic(g.Steer.Back).Degrees() - g.Steer.Back.Degrees(); !g.Declined || math.Abs(m-15) > 1 {
		t.Errorf("compass %.1f from true", m)
	}
	b.at(8, -1600)
	g, err = b.Guide(b.ctx, uuid.Nil, nil, uuid.Nil)
	b.must(err)
	if s := g.Steer; !s.On || s.Right || math.Abs(s.Off.Metres()-8) > 0.5 || math.Abs(s.Bearing.Degrees()-180) > 1 {
		t.Errorf("8 m east of the line: %+v", s)
	}
	b.here.Known = false
	if g, err = b.Guide(b.ctx, uuid.Nil, nil, uuid.Nil); err != nil || g.FromHole == nil {
		t.Errorf("without a fix the newest hole stands in: %+v, %v", g.FromHole, err)
	}
}

// The way to a hole keeps its line while somebody drifts off it, and names a crack across it; nowhere is a hole without a place led to.
func TestGuideToAHole(t *testing.T) {
	b := newBench(t)
	holes := b.readLine(2) // N -2400 and -1900
	b.must(b.Record(b.ctx, Act{}, &journal.Hazard{What: "crack", Shape: "line", Report: "present", By: "outfit",
		Points: []journal.Point{*journal.PointOf(frameOf(b).Position(geo.Local{E: -50, N: -2100})), *journal.PointOf(frameOf(b).Position(geo.Local{E: 500, N: -2100}))}}))
	from := geo.Local{E: 0, N: -1900}
	b.at(25, -2000)
	g, err := b.Guide(b.ctx, holes[0], &from, uuid.Nil)
	b.must(err)
	if s := g.Steer; s.On || s.Right || math.Abs(s.Off.Metres()-25) > 0.1 || len(g.Hazards) != 1 {
		t.Errorf("25 m left of the line to hole 1, over a crack: %+v, hazards %v", s, g.Hazards)
	}
	if _, err := b.Guide(b.ctx, journal.NewID(), nil, uuid.Nil); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("an unknown hole: %v", err)
	}
}

func frameOf(b *bench) geo.Frame { return geo.NewFrame(geo.Position{Lat: 47.9, Lon: -45}) }

// A pace is learned from paces counted between two holes, and refused where nobody walks so.
func TestPaceIsLearned(t *testing.T) {
	b := newBench(t)
	holes := b.readLine(2)
	if err := b.SetPace(b.ctx, Act{}, uuid.Nil, holes[0], holes[1], 300); fault.CodeOf(err) != fault.BadInput {
		t.Errorf("1.67 m a pace: %v", err)
	}
	if err := b.SetPace(b.ctx, Act{}, uuid.Nil, holes[0], holes[0], 39); fault.CodeOf(err) != fault.BadInput {
		t.Errorf("nowhere in 39 paces: %v", err)
	}
	b.must(b.SetPace(b.ctx, Act{}, uuid.Nil, holes[0], holes[1], 800)) // 500 m
	g, err := b.Guide(b.ctx, uuid.Nil, nil, uuid.Nil)
	b.must(err)
	if !g.Paced || math.Abs(g.Pace.Metres()-0.625) > 0.002 {
		t.Errorf("a pace of %v", g.Pace)
	}
}

// A child on record makes the turn-back time earlier, until it is ashore; a line on record measures the pace.
func TestThePartySetsThePace(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	b.look(lake.None)
	back := func() safety.TurnBack {
		t.Helper()
		x, err := b.TurnBack(b.ctx)
		b.must(err)
		return x
	}
	grown := back()
	if grown.Way.Measured || grown.Way.Pace != 3*quantity.KilometrePerHour {
		t.Errorf("nothing is on record: %v", grown.Way.Pace.KilometresPerHour())
	}
	id := journal.NewID()
	b.must(b.AddGuest(b.ctx, Act{ID: id}, "Lena", journal.Guest{Role: "guest", Age: "child"}))
	child := back()
	if !child.At.Before(grown.At) || math.Abs(child.Way.Pace.KilometresPerHour()-2.1) > 1e-9 {
		t.Errorf("with a child %v at %v km/h, without %v", child.At, child.Way.Pace.KilometresPerHour(), grown.At)
	}
	b.must(b.Record(b.ctx, Act{}, &journal.Claim{Person: id, State: "ashore"}))
	if ashore := back(); !ashore.At.Equal(grown.At) {
		t.Errorf("the child is ashore: %v, want %v", ashore.At, grown.At)
	}
	f := frameOf(b)
	p, q := f.Position(geo.Local{E: 0, N: -2900}), f.Position(geo.Local{E: 0, N: -900})
	blob, err := b.store.PutBlob(b.ctx, fmt.Appendf(nil, `{"type":"Feature","geometry":{"type":"LineString","coordinates":[[%.7f,%.7f],[%.7f,%.7f]]}}`, p.Lon, p.Lat, q.Lon, q.Lat))
	b.must(err)
	b.must(b.Record(b.ctx, Act{}, &journal.Track{Blob: blob, Points: 2, From: b.now.Add(-30 * time.Minute).UnixMilli(), To: b.now.UnixMilli(), Purpose: "out"}))
	if x := back(); !x.Way.Measured || math.Abs(x.Way.Pace.KilometresPerHour()-4) > 0.01 { // 2000 m in 30 min
		t.Errorf("measured %v km/h", x.Way.Pace.KilometresPerHour())
	}
}

// The watch: the wet come first, warm-ups count from the last one, a heater without a tried alarm is told.
func TestColdWatch(t *testing.T) {
	b := newBench(t)
	id := journal.NewID()
	b.must(b.AddGuest(b.ctx, Act{ID: id}, "Tim", journal.Guest{Role: "guest", Age: "child"}))
	b.must(b.Record(b.ctx, Act{}, &journal.Claim{Person: id, State: "on_ice"}))
	watch := func() Cold {
		t.Helper()
		c, err := b.ColdWatch(b.ctx, 0)
		b.must(err)
		return c
	}
	if c := watch(); c.Cold.Known || len(c.Watch.Turns) != 1 || c.Watch.Turns[0].Every != 15*time.Minute {
		t.Errorf("cold not known, so the interval is halved: %+v", c.Watch)
	}
	air, wind := int64(-100), int64(3000)
	b.must(b.Record(b.ctx, Act{}, &journal.Weather{Air: &air, Wind: &wind, WindHeight: "mast"}))
	b.now = b.now.Add(30 * time.Minute)
	if c := watch(); !c.Watch.Turns[0].Over {
		t.Errorf("half an hour on the ice: %+v", c.Watch.Turns)
	}
	b.must(b.Watched(b.ctx, Act{}, "warm", id))
	b.must(b.Watched(b.ctx, Act{}, "wet", id))
	b.must(b.Watched(b.ctx, Act{}, "heater_on", uuid.Nil))
	if c := watch(); c.Watch.Turns[0].Over || len(c.Watch.Wet) != 1 || !c.Watch.NoAlarm {
		t.Errorf("warmed, wet, a heater without alarm: %+v", c.Watch)
	}
	b.must(b.Watched(b.ctx, Act{}, "dry", id))
	b.must(b.Watched(b.ctx, Act{}, "co_alarm", uuid.Nil))
	if c := watch(); len(c.Watch.Wet) != 0 || c.Watch.NoAlarm || !c.Watch.Heater {
		t.Errorf("dry, alarm tried: %+v", c.Watch)
	}
	b.must(b.Watched(b.ctx, Act{}, "heater_off", uuid.Nil))
	if c := watch(); c.Watch.Heater {
		t.Error("the heater is out")
	}
	for _, bad := range []struct {
		what   string
		person uuid.UUID
	}{{"warm", uuid.Nil}, {"dance", uuid.Nil}, {"wet", journal.NewID()}} {
		if err := b.Watched(b.ctx, Act{}, bad.what, bad.person); err == nil {
			t.Errorf("%s of %v is taken", bad.what, bad.person)
		}
	}
}

// The rescue card stands with the landing's place before anybody is out, and says so; a hole of the day takes its place.
func TestRescueCardTheEveningBefore(t *testing.T) {
	b := newBench(t)
	b.here.Known = false
	r, err := b.Rescue(b.ctx)
	b.must(err)
	if !r.AtLanding || r.Position != r.Landing || r.Grid != r.LandingGrid {
		t.Errorf("%+v", r)
	}
	b.readLine(1)
	b.here.Known = false
	if r, err = b.Rescue(b.ctx); err != nil || r.AtLanding || r.FromHole != "1" || math.Abs(r.FromLanding.Metres()-500) > 1 {
		t.Errorf("%+v, %v", r, err)
	}
}

// The calendar of the day rings half an hour before the turn-back time and at it, and tells why; it holds no position.
func TestAlarms(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	b.look(lake.None)
	back, err := b.TurnBack(b.ctx)
	b.must(err)
	var out bytes.Buffer
	b.must(b.Alarms(b.ctx, &out))
	text := out.String()
	for _, want := range []string{"DTSTART:" + back.At.UTC().Format("20060102T150405Z"), "TRIGGER:-PT30M", "TRIGGER:-PT0M", "civil dusk"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	for _, spot := range []string{"GEO", "LOCATION", "47.", "-45"} {
		if strings.Contains(text, spot) {
			t.Errorf("the calendar holds %q", spot)
		}
	}
}

// Minutes of packing and in hand move the turn-back time by as much, hold on later days and in the evening's plan, are taken
// back by nothing told, and are refused outside their caps with a sentence of what would do. A margin below half an hour
// never counts (trade note, section 6.4: at least 30 min).
func TestPackingAndMarginAreTold(t *testing.T) {
	b := newBench(t)
	b.readLine(3)
	turn := func() time.Time {
		x, err := b.TurnBack(b.ctx)
		b.must(err)
		return x.Computed
	}
	usual := turn()
	for _, c := range []struct {
		which, text string
		earlier     int // minutes; -1: refused
	}{
		{Margin, "45", 15}, {Margin, "", 0}, {Margin, "30", 0}, {Margin, "29", -1}, {Margin, "180", 150}, {Margin, "181", -1}, {Margin, "-45", -1}, {Margin, "half an hour", -1}, {Margin, "", 0},
		{PackUp, "35 min", 15}, {PackUp, "9", -1}, {PackUp, "10", -10}, {PackUp, "121", -1}, {PackUp, "120", 100}, {PackUp, "45.5", -1}, {PackUp, "", 0},
	} {
		before := turn()
		err := b.SetHour(b.ctx, Act{}, c.which, c.text)
		if c.earlier == -1 {
			var f *fault.Error
			if !errors.As(err, &f) || f.Code != fault.BadInput || !strings.Contains(f.Hint, "such as 45") || !strings.Contains(f.Message, c.text) || !turn().Equal(before) {
				t.Errorf("%s %q: %v", c.which, c.text, err)
			}
			continue
		}
		if b.must(err); usual.Sub(turn()) != time.Duration(c.earlier)*time.Minute {
			t.Errorf("%s %q: %v earlier", c.which, c.text, usual.Sub(turn()))
		}
	}
	b.must(b.SetHours(b.ctx, Act{}, map[string]string{Margin: "45", PackUp: "30"}))
	if e := b.ends("2026-01-16"); e.Margin != 45*time.Minute || e.PackUp != 30*time.Minute {
		t.Errorf("the day after: %+v", e)
	}
	if e := b.ends("2026-01-14"); e.Margin != 0 || e.PackUp != 0 {
		t.Errorf("the day before: %+v", e)
	}
	b.must(b.Record(b.ctx, Act{}, &journal.Setting{Key: Margin, Value: []byte(`"5"`)})) // as another program might write it
	if e := b.ends("2026-01-16"); e.Margin != 0 {
		t.Errorf("a margin of 5 min counts: %+v", e)
	}
}
