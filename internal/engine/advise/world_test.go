package advise

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
	"icehand/internal/trade/party"
)

// diary writes a journal for a test: a made-up square lake of some kilometres, and a guide's acts on it.
type diary struct {
	t     testing.TB
	zone  *time.Location
	frame geo.Frame
	by    journal.Author
	head  journal.Head
	log   *journal.Log
	lake  *lake.View
	party *party.View
	count int64
	id    byte
	n     uint32
}

var lakeID = uuid.UUID{8}

func newDiary(t testing.TB) *diary {
	t.Helper()
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	origin := geo.Position{Lat: 47.9, Lon: -92.5}
	d := &diary{t: t, zone: zone, frame: geo.NewFrame(origin), log: &journal.Log{}, lake: lake.New(lakeID), party: party.New(lakeID),
		by: journal.Author{Outfit: uuid.UUID{9}, Lake: lakeID, Account: uuid.UUID{1}, Zone: zone}, head: journal.Head{Journal: uuid.UUID{7}}}
	d.write(d.at(1, "07:00"), &journal.Lake{Name: "Lake Tamaringen", Origin: *journal.PointOf(origin), Zone: zone.String()})
	return d
}

// at gives an hour of a day of January 2026.
func (d *diary) at(day int, clock string) time.Time {
	d.t.Helper()
	c, err := time.Parse("15:04", clock)
	if err != nil {
		d.t.Fatal(err)
	}
	return time.Date(2026, 1, day, c.Hour(), c.Minute(), 0, 0, d.zone)
}

func (d *diary) write(when time.Time, body journal.Body) uuid.UUID {
	d.t.Helper()
	d.n++
	id := uuid.UUID{0: 5, 12: byte(d.n >> 24), 13: byte(d.n >> 16), 14: byte(d.n >> 8), 15: byte(d.n)}
	e, err := journal.Seal(d.head, d.by.Draft(id, when, when, body))
	if err != nil {
		d.t.Fatal(err)
	}
	d.head = journal.HeadOf(&e)
	if err := d.log.Add(&e); err != nil {
		d.t.Fatal(err)
	}
	return id
}

// hole drills a hole without looking.
func (d *diary) hole(when time.Time, p geo.Local) uuid.UUID {
	d.count++
	return d.write(when, &journal.Hole{Number: d.count, At: journal.PointOf(d.frame.Position(p))})
}

// look drills a hole and looks.
func (d *diary) look(when time.Time, p geo.Local, marks string) uuid.UUID {
	h := d.hole(when, p)
	d.write(when, &journal.Look{Hole: h, Seconds: 30, Marks: marks})
	return h
}

func (d *diary) fish(when time.Time, hole uuid.UUID, n int64) {
	d.write(when, &journal.Fish{Hole: hole, Species: "perch", Kept: true, Count: n})
}

func (d *diary) ice(when time.Time, p geo.Local) {
	d.write(when, &journal.Ice{At: journal.PointOf(d.frame.Position(p)), Total: 420})
}

// square is the test lake: 6 x 6 km about the origin, 12 m deep in the middle, shoaling to the banks.
func square(t testing.TB) *ground.Surface {
	t.Helper()
	const half = 3000.0
	ring := []geo.Local{{E: -half, N: -half}, {E: half, N: -half}, {E: half, N: half}, {E: -half, N: half}}
	var s []ground.Sounding
	for e := -half + 150; e < half; e += 300 {
		for n := -half + 150; n < half; n += 300 {
			bank := half - math.Max(math.Abs(e), math.Abs(n))
			s = append(s, ground.Sounding{At: geo.Local{E: e, N: n}, Depth: quantity.Length(12.5 * math.Min(1, bank/900))})
		}
	}
	out, err := ground.Build(context.Background(), ground.Input{Outline: []geo.Polygon{{Outer: ring}}, Soundings: s, Cell: 100})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// pass is the fake veto that bars nothing.
func pass(safety.HopInput) safety.HopAnswer { return safety.HopAnswer{Label: "not asked"} }

// input gathers the diary for a question.
func (d *diary) input(now time.Time, scout geo.Local) Input {
	d.t.Helper()
	d.lake.Sync(d.log)
	d.party.Sync(d.log)
	in := Input{Now: now, Lake: d.lake, Party: d.party, Surface: surfaceOf(d.t), Scout: Place{At: scout, Known: true, Accuracy: 5, Fixed: now}, Seed: 1, Veto: pass}
	in.Home.At = time.Date(now.Year(), now.Month(), now.Day(), 15, 40, 0, 0, d.zone)
	in.Home.Way = safety.Way{Distance: scout.Distance(geo.Local{E: -2500}), Bearing: scout.BearingTo(geo.Local{E: -2500}), Travel: 40 * time.Minute}
	for _, s := range d.party.RodsAt(now) {
		in.Rods = append(in.Rods, Rod{Number: s.Rod, Hole: s.Hole, Since: s.From, Sit: s.ID})
	}
	return in
}

var built *ground.Surface

// surfaceOf builds the lake once: it never changes.
func surfaceOf(t testing.TB) *ground.Surface {
	if built == nil {
		built = square(t)
	}
	return built
}

func mustNext(t testing.TB, in Input) Step {
	t.Helper()
	s, err := Next(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Why) == 0 {
		t.Fatalf("no reason for %v", s.Do)
	}
	return s
}

func mustHere(t testing.TB, in Input, p geo.Local) Odds {
	t.Helper()
	o, why, err := Here(context.Background(), in, p)
	if err != nil {
		t.Fatal(err)
	}
	if len(why) == 0 {
		t.Fatal("odds without a reason")
	}
	return o
}
