package desk

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
)

// walked gives the fixes of a walk in a straight line, one every 10 s, within 5 m.
func (b *bench) walked(from, to geo.Local, start time.Time, speed float64) (fixes []LineFix) {
	f := frameOf(b)
	long := from.Distance(to).Metres()
	for s := 0.0; s <= long/speed; s += 10 {
		share := s * speed / long
		p := geo.Local{E: from.E + share*(to.E-from.E), N: from.N + share*(to.N-from.N)}
		fixes = append(fixes, LineFix{When: start.Add(time.Duration(s) * time.Second), At: f.Position(p), Accuracy: 5 * quantity.Metre})
	}
	return fixes
}

// A line that the phone recorded in parts is one line: it sets the pace, leads home, counts once when it is sent again, and goes when it is taken back.
func TestRecordedLine(t *testing.T) {
	b := newBench(t)
	b.at(0, -900)
	child := journal.NewID()
	b.must(b.AddGuest(b.ctx, Act{ID: child}, "Lena", journal.Guest{Role: "guest", Age: "child"}))
	home, bend, base := geo.Local{E: 0, N: -2900}, geo.Local{E: 600, N: -2000}, geo.Local{E: 0, N: -900}
	before, err := b.TurnBack(b.ctx)
	b.must(err)
	first := LineAct{Act: Act{ID: journal.NewID()}, Purpose: "out", Fixes: b.walked(home, bend, b.now.Add(-50*time.Minute), 1.25)}
	first.Of = first.ID
	second := LineAct{Act: Act{ID: journal.NewID()}, Of: first.ID, Purpose: "out", Fixes: b.walked(bend, base, b.now.Add(-30*time.Minute), 1.25)}
	second.Fixes[3].Accuracy, second.Fixes[5].Accuracy = 80*quantity.Metre, 0 // poor, and not told
	for _, part := range []LineAct{first, second, second} {
		poor, err := b.RecordLine(b.ctx, part)
		b.must(err)
		if want := map[uuid.UUID]int{first.ID: 0, second.ID: 2}[part.ID]; poor != want {
			t.Errorf("%d poor, want %d", poor, want)
		}
	}
	lines, err := b.Lines(b.ctx)
	b.must(err)
	long := home.Distance(bend).Metres() + bend.Distance(base).Metres()
	if len(lines) != 1 || lines[0].Fixes != len(first.Fixes)+len(second.Fixes) || lines[0].Bad != 2 || math.Abs(lines[0].Length.Metres()-long) > 0.06*long {
		t.Fatalf("%d lines: %+v; %d fixes over %.0f m", len(lines), lines, len(first.Fixes)+len(second.Fixes), long)
	}
	with := func() safety.TurnBack {
		t.Helper()
		x, err := b.TurnBack(b.ctx)
		b.must(err)
		return x
	}
	x := with()
	if w := x.Way; !w.Measured || math.Abs(w.Pace.KilometresPerHour()-4.5*0.7) > 0.15 || w.Basis != "this morning's line, ice not read on it" || math.Abs(w.Distance.Metres()-long) > 30 {
		t.Errorf("%.2f km/h, %s, %.0f m", w.Pace.KilometresPerHour(), w.Basis, w.Distance.Metres())
	}
	if w := x.Way; w.Travelled() || !w.OnMorningLine() {
		t.Error("a line on which no ice was read counts as travelled and read")
	}
	b.must(b.Record(b.ctx, Act{At: second.Fixes[len(second.Fixes)-1].When.Add(10 * time.Minute)}, &journal.HeadCount{Present: []uuid.UUID{child}}))
	if w := with().Way; math.Abs(w.Pace.KilometresPerHour()-4.5) > 0.15 {
		t.Errorf("the count at the line's end says that the child came along: %.2f km/h", w.Pace.KilometresPerHour())
	}
	b.must(b.TakeBackLine(b.ctx, Act{}, first.ID))
	if lines, err = b.Lines(b.ctx); err != nil || len(lines) != 0 {
		t.Errorf("taken back: %v, %v", lines, err)
	}
	if y := with(); !y.At.Equal(before.At) || y.Way.Measured {
		t.Errorf("taken back: %v, before %v", y.At, before.At)
	}
}

// A hole whose ice was read on the way makes the recorded line the travelled one; a hole far off it leaves the holes to be the line.
func TestRecordedLineAndReadings(t *testing.T) {
	for off, want := range map[float64]string{20: "this morning's line", 200: "holes"} {
		b := newBench(t)
		home, base := geo.Local{E: 0, N: -2900}, geo.Local{E: 0, N: -900}
		act := LineAct{Act: Act{ID: journal.NewID()}, Purpose: "out", Fixes: b.walked(home, base, b.now.Add(-40*time.Minute), 1.25)}
		act.Of = act.ID
		_, err := b.RecordLine(b.ctx, act)
		b.must(err)
		b.at(off, -1900)
		p := b.here
		_, err = b.ReadIce(b.ctx, IceAct{Hole: HoleRef{Place: &p}, Reading: journal.Ice{Total: 420}})
		b.must(err)
		b.at(0, -1000)
		x, err := b.TurnBack(b.ctx)
		b.must(err)
		got := x.Way.Basis
		if !x.Way.Travelled() {
			got = "holes" // 900 m beyond the last hole: joined, not all of it travelled
		}
		if got != want {
			t.Errorf("a hole %g m off the recorded line: %s, want %s", off, x.Way.Basis, want)
		}
	}
}

// What cannot be is refused with nothing kept, and the fault names the fix.
func TestLineRefused(t *testing.T) {
	b := newBench(t)
	good := func() LineAct {
		id := journal.NewID()
		return LineAct{Act: Act{ID: id}, Of: id, Purpose: "out", Fixes: b.walked(geo.Local{N: -2900}, geo.Local{N: -2800}, b.now.Add(-10*time.Minute), 1)}
	}
	for name, spoil := range map[string]func(*LineAct){
		"no fix":          func(a *LineAct) { a.Fixes = nil },
		"no purpose":      func(a *LineAct) { a.Purpose = "" },
		"off the globe":   func(a *LineAct) { a.Fixes[2].At.Lat = 91 },
		"another country": func(a *LineAct) { a.Fixes[2].At.Lon = 10 },
		"negative radius": func(a *LineAct) { a.Fixes[2].Accuracy = -1 },
		"not a number":    func(a *LineAct) { a.Fixes[2].Accuracy = quantity.Length(math.NaN()) },
		"the future":      func(a *LineAct) { a.Fixes[2].When = b.now.Add(time.Hour) },
		"last week":       func(a *LineAct) { a.Fixes[0].When = b.now.Add(-200 * time.Hour) },
		"back in time":    func(a *LineAct) { a.Fixes[4].When = a.Fixes[1].When },
		"nobody's name":   func(a *LineAct) { a.People = []uuid.UUID{journal.NewID()} },
	} {
		a := good()
		spoil(&a)
		if _, err := b.RecordLine(b.ctx, a); fault.CodeOf(err) != fault.BadInput && fault.CodeOf(err) != fault.NotFound || fault.Public(err).Hint == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
	if lines, err := b.Lines(b.ctx); err != nil || len(lines) != 0 {
		t.Errorf("something was kept: %v, %v", lines, err)
	}
	if err := b.TakeBackLine(b.ctx, Act{}, journal.NewID()); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("a line that is not on record: %v", err)
	}
}

// The turn-back time follows every new fact: after each of a random run of acts the desk gives what a desk gives that reads the whole journal afresh, and
// what can only make it earlier never makes it later.
func TestEveryFactMovesTheTurnBack(t *testing.T) {
	for seed := range uint64(4) {
		r := rand.New(rand.NewPCG(seed, 6))
		b := newBench(t)
		b.at(-400, -300)
		f := frameOf(b)
		point := func(e, n float64) journal.Point { return *journal.PointOf(f.Position(geo.Local{E: e, N: n})) }
		clock := func() string { return fmt.Sprintf("%02d:%02d", 12+r.IntN(6), r.IntN(60)) }
		earlier := map[string]func(){ // whatever is drawn
			"a child": func() {
				b.must(b.AddGuest(b.ctx, Act{}, fmt.Sprint("Tim ", b.now), journal.Guest{Role: "guest", Age: "child"}))
			},
			"a hazard": func() {
				e, n := -2000+4000*r.Float64(), -2300+1500*r.Float64()
				b.must(b.Record(b.ctx, Act{}, &journal.Hazard{What: "open_water", Shape: "line", Points: []journal.Point{point(e, n), point(e+500, n)}, Radius: 20_000, Report: "present"}))
			},
		}
		told := map[string]bool{}
		either := map[string]func(){
			"fuel":  func() { b.must(b.SetHour(b.ctx, Act{}, FuelUntil, clock())) },
			"cold":  func() { b.must(b.SetHour(b.ctx, Act{}, ColdUntil, clock())) },
			"cross": func() { b.must(b.SetHour(b.ctx, Act{}, CrossingBy, clock())) },
			"close": func() { b.must(b.SetHour(b.ctx, Act{}, LegalClose, clock())) },
			"wind": func() {
				from, wind := int64(r.IntN(360)), int64(8000)
				b.must(b.Record(b.ctx, Act{}, &journal.Weather{Wind: &wind, From: &from, WindHeight: "mast"}))
			},
			"flat": func() {
				cloud := int64(100 * r.IntN(2))
				b.must(b.Record(b.ctx, Act{}, &journal.Weather{Cloud: &cloud}))
			},
			"line": func() {
				a := LineAct{Act: Act{ID: journal.NewID()}, Purpose: "out", Fixes: b.walked(geo.Local{N: -2900}, geo.Local{N: -2000}, b.now.Add(-20*time.Minute), 0.8+0.8*r.Float64())}
				a.Of = a.ID
				_, err := b.RecordLine(b.ctx, a)
				b.must(err)
			},
		}
		if seed == 0 && (len(earlier) < 2 || len(either) < 7) {
			t.Fatal("nothing to draw from")
		}
		last, err := b.TurnBack(b.ctx)
		b.must(err)
		for range 10 {
			b.now = b.now.Add(time.Minute)
			onlyEarlier := r.IntN(2) == 0
			set := either
			if onlyEarlier {
				set = earlier
			}
			name := draw(r, set)
			set[name]()
			if name != "flat" && name != "line" && name != "wind" && !onlyEarlier && !told[name] {
				told[name], onlyEarlier = true, true // an hour told for the first time
			}
			now, err := b.TurnBack(b.ctx)
			b.must(err)
			if onlyEarlier && now.At.After(last.At) {
				t.Errorf("seed %d: %s made it later: %v, before %v", seed, name, now.At, last.At)
			}
			afresh := *b
			afresh.open()
			again, err := afresh.TurnBack(b.ctx)
			b.must(err)
			if !again.At.Equal(now.At) || again.Binding.Code != now.Binding.Code || again.Way.Travel != now.Way.Travel {
				t.Fatalf("seed %d: after %s %v for %s; read afresh %v for %s", seed, name, now.At, now.Binding.Code, again.At, again.Binding.Code)
			}
			last = now
		}
	}
}

// draw takes a key at random, the same for the same seed.
func draw(r *rand.Rand, set map[string]func()) string {
	var keys []string
	for k := range set {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys[r.IntN(len(keys))]
}

// The rescue card tells what was read on the way that rescuers may come: holes on it today, and no other.
func TestRescueTellsWhatWasReadOnTheWay(t *testing.T) {
	b := newBench(t)
	b.readLine(3)
	b.at(900, -1900) // far off the way
	p := b.here
	_, err := b.ReadIce(b.ctx, IceAct{Hole: HoleRef{Place: &p}, Reading: journal.Ice{Total: 150}})
	b.must(err)
	b.at(0, -1400)
	f := frameOf(b)
	b.must(b.Record(b.ctx, Act{}, &journal.Hazard{What: "ridge", Shape: "point", Points: []journal.Point{*journal.PointOf(f.Position(geo.Local{N: -2000}))}, Radius: 20_000, Report: "crossing"}))
	b.now = b.now.Add(time.Minute)
	r, err := b.Rescue(b.ctx)
	b.must(err)
	if len(r.Way.Line) < 2 {
		t.Fatalf("no way: %s", r.Way.Basis)
	}
	want := 0
	for _, at := range []geo.Local{{N: -2400}, {N: -1900}, {N: -1400}, {E: 900, N: -1900}} {
		if math.Abs(geo.FootOn(r.Way.Line, at).Off.Metres()) <= 30 {
			want++
		}
	}
	if x := r.Read; want < 3 || x.Holes != want || x.Most != 420*quantity.Millimetre || len(x.Crossings) != 1 || x.Last.IsZero() {
		t.Errorf("%+v on a way of %v, want %d holes", x, r.Way.Line, want)
	}
}
