package desk

import (
	"context"
	"math"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/simplify"

	"icehand/internal/base/geo"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
)

// TurnBack answers: when must we start home?
func (d *Desk) TurnBack(ctx context.Context) (t safety.TurnBack, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		hours, issued, err := d.forecast(ctx)
		if err != nil {
			return err
		}
		now := d.Clock()
		t = d.turnBack(now, d.here(now), hours, issued)
		return nil
	})
	return t, err
}

// SetTurnBack overrides the turn-back time with a new one and one of five reasons. The time computed at that moment is
// kept with it, so that a fact learned later ends the override.
func (d *Desk) SetTurnBack(ctx context.Context, a Act, until time.Time, reason string) error {
	return d.record(ctx, a, func(a Act) error {
		hours, issued, err := d.forecast(ctx)
		if err != nil {
			return err
		}
		now := d.Clock()
		computed := d.turnBack(now, d.here(now), hours, issued).Computed
		return d.write(ctx, item{a.ID, a.At, &journal.TurnBack{Until: until.UnixMilli(), Reason: reason, Computed: computed.UnixMilli()}})
	})
}

// landing gives where the party got onto the ice on a day: as the trip tells it, else the day's first hole.
func (d *Desk) landing(day journal.Day) (geo.Position, bool) {
	if t := d.party.Trip(day); t != nil && t.Landing != nil {
		return *t.Landing, true
	}
	for _, h := range d.lake.HolesOn(day) {
		if h.Placed {
			return d.lake.Frame.Position(h.At), false
		}
	}
	for i := len(d.party.Trips) - 1; i >= 0; i-- { // the landing used last
		if l := d.party.Trips[i].Landing; l != nil {
			return *l, true
		}
	}
	return d.lake.Frame.Origin(), false
}

// placeKeeps is how many days a farthest place is remembered for a day without one; ours.
const placeKeeps = 30

// farthest gives the place of the day that lies farthest from home; of the newest day before it when the day has none,
// and home when no day of the last month has. earlier: it is not of the day.
func (d *Desk) farthest(day journal.Day, home geo.Local) (at geo.Local, earlier bool) {
	at = home
	for range placeKeeps {
		found := false
		for _, h := range d.lake.HolesOn(day) {
			if !h.Placed {
				continue
			}
			if found = true; h.At.Distance(home) > at.Distance(home) {
				at = h.At
			}
		}
		if found {
			return at, earlier
		}
		day, earlier = journal.DayOf(day.Midnight(d.lake.Zone).Add(-12*time.Hour), d.lake.Zone), true
	}
	return home, true
}

func (d *Desk) turnBack(now time.Time, here advise.Place, hours []safety.ForecastHour, issued time.Time) safety.TurnBack {
	today := journal.DayOf(now, d.lake.Zone)
	landing, told := d.landing(today)
	in := safety.TurnBackInput{Now: now, Zone: d.lake.Zone, Day: string(today), Landing: landing, Frame: d.lake.Frame,
		Travel: "foot", Forecast: hours, Issued: issued, Observed: d.lake.Observed, Measured: d.lake.Measured}
	if !told {
		in.LandingUnknown = true
	}
	home := d.lake.Frame.Local(landing)
	in.Farthest, in.NoPlace = d.farthest(today, home)
	if here.Known {
		at := here.At
		in.Here = &at
	}
	if t := d.party.Trip(today); t != nil {
		in.Travel, in.Agreed = t.Travel, t.Agreed
	}
	if holes := d.lake.HolesOn(today); len(holes) > 0 {
		in.Out = holes[0].Drilled
	}
	pace := d.partyPace(in.Travel, today, now)
	in.Speed, in.Slowest, in.Earlier = pace.Speed, pace.Slowest, pace.Earlier
	w := d.weather(now, hours)
	in.FlatLight = safety.FlatLight(w.Observed, w.Hour)
	in.Ends = d.ends(today)
	in.Way, in.Unread = d.morningLine(today, home, now)
	for _, h := range d.lake.Hazards {
		if h.InForce() && (h.What == "ridge" || h.What == "crack") {
			in.Crossings = append(in.Crossings, h)
		}
	}
	in.Hazards = d.lake.Hazards
	in.ClockBack = d.setBack(now).By
	if d.prepare(context.Background()) == nil && d.ground.polygons != nil { // without an outline only straight lines are known
		in.Round = func(shifted time.Time) func(from, to geo.Local) ([]geo.Local, bool) {
			return d.round(now, home, shifted)
		}
	}
	in.Override = d.override(today)
	return safety.TurnBackTime(in)
}

// morningLine gives the line travelled this morning, landing first: the one that the phone recorded on the way out where it holds every hole whose ice
// was read on the way, else the landing and those holes, read before the first look of the day. unread: no ice was read on the recorded line.
func (d *Desk) morningLine(day journal.Day, home geo.Local, now time.Time) (line []geo.Local, unread bool) {
	line = d.readLine(day, home)
	recorded := d.lineOut(day, home, now)
	if recorded == nil {
		return line, false
	}
	for i, p := range line {
		if i > 0 && math.Abs(geo.FootOn(recorded, p).Off.Metres()) > lineReach.Metres() {
			return line, false
		}
	}
	return recorded, line == nil
}

// readLine gives the landing and the holes whose ice was read before the first look of the day; nil when none was.
func (d *Desk) readLine(day journal.Day, home geo.Local) []geo.Local {
	line := []geo.Local{home}
	first := time.Time{}
	for _, l := range d.lake.Looks {
		if h := d.lake.Hole(l.Hole); h != nil && h.Day == day {
			first = l.When
			break
		}
	}
	for _, r := range d.lake.Ice {
		if r.Day == day && r.Placed && (first.IsZero() || !r.When.After(first)) {
			line = append(line, r.At)
		}
	}
	if len(line) == 1 {
		return nil
	}
	return line
}

// roundCache keeps the search for ways round land and hazards, and the ways it found, until a hazard is reported, the
// hour turns or the outline changes.
type roundCache struct {
	key   roundKey
	find  func(from, to geo.Local) ([]geo.Local, bool)
	found map[[2]geo.Local]foundWay
}

type roundKey struct {
	layer   [2]uuid.UUID
	hazards int
	hour    time.Time
	shifted time.Time
	home    geo.Local
}

type foundWay struct {
	line []geo.Local
	ok   bool
}

// wayStep is how finely a start is told apart when a way that was found is used again.
const wayStep = 25.0 // m

// round gives the search for a way over water to a landing. The caller holds mu, also while it searches.
func (d *Desk) round(now time.Time, home geo.Local, shifted time.Time) func(from, to geo.Local) ([]geo.Local, bool) {
	c := &d.rounds
	key := roundKey{d.ground.layers, len(d.lake.Hazards), now.Truncate(time.Hour), shifted, home}
	if c.find == nil || c.key != key {
		*c = roundCache{key: key, find: safety.NewRound(nearestOutline(d.ground.polygons, home), d.lake.Hazards, now, shifted, d.lake.Zone), found: map[[2]geo.Local]foundWay{}}
	}
	return func(from, to geo.Local) ([]geo.Local, bool) {
		near := [2]geo.Local{{E: math.Round(from.E/wayStep) * wayStep, N: math.Round(from.N/wayStep) * wayStep}, to}
		w, known := c.found[near]
		if !known {
			w.line, w.ok = c.find(from, to)
			c.found[near] = w
		}
		if !w.ok {
			return nil, false
		}
		return append([]geo.Local{from}, w.line[1:]...), true
	}
}

// nearestOutline gives the piece of water that a place lies in or nearest to, its shore thinned to what a way needs.
func nearestOutline(polygons []geo.Polygon, p geo.Local) geo.Polygon {
	best := polygons[0]
	for _, g := range polygons {
		if g.Contains(p) {
			return thinned(g)
		}
		if g.ShoreDistance(p) < best.ShoreDistance(p) {
			best = g
		}
	}
	return thinned(best)
}

// shoreDetail is how far a thinned shore may run from the drawn one: half of what a way keeps from land.
const shoreDetail = 25.0 // m

func thinned(g geo.Polygon) geo.Polygon {
	out := geo.Polygon{Outer: thinRing(g.Outer)}
	for _, h := range g.Holes {
		out.Holes = append(out.Holes, thinRing(h))
	}
	return out
}

func thinRing(ring []geo.Local) []geo.Local {
	line := make(orb.LineString, 0, len(ring)+1)
	for _, p := range ring {
		line = append(line, orb.Point{p.E, p.N})
	}
	line = append(line, line[0])
	line = simplify.DouglasPeucker(shoreDetail).LineString(line)
	if len(line) < 4 {
		return ring
	}
	out := make([]geo.Local, len(line)-1)
	for i := range out {
		out[i] = geo.Local{E: line[i][0], N: line[i][1]}
	}
	return out
}
