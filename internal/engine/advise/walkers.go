package advise

import (
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/lake"
	"icehand/internal/trade/party"
)

// Walker is a person of the party and the walk to the step's place.
type Walker struct {
	Person    uuid.UUID
	Role, Age string
	Rod       int
	Hole      uuid.UUID // from where: the hole of the person's rod or seat; zero: from where the scout stands
	Placed    bool      // it is known where the person is; else nothing below counts
	Distance  quantity.Length
	Walk      time.Duration
	Reach     quantity.Length // how far that person is walked at a stretch
	Told      bool            // Reach was told for that person; else it is the usual one of the age
	FromBase  quantity.Length // of the place from the base, for a child; 0 without a base
	Barred    string          // why the walk there may not be advised: the ice, a hazard, the time; "" when it may
	Can       bool
}

// How far people are walked over snow at a stretch; common practice, no source. A guest's own reach, once told, takes its place.
var walking = map[string]quantity.Length{"child": 300 * quantity.Metre, "elder": 400 * quantity.Metre, "adult": 1000 * quantity.Metre}

// UsualReach gives how far somebody of an age is walked at a stretch when nothing else was told.
func UsualReach(age string) quantity.Length {
	if r, ok := walking[age]; ok {
		return r
	}
	return walking["adult"]
}

// baseReach is how far from the base a child's place may lie without being said; common practice, no source.
const baseReach = 300 * quantity.Metre

// walkers says of everybody who is out whether they can walk to a place.
func (w *world) walkers(p geo.Local) []Walker {
	if w.in.Party == nil {
		return nil
	}
	ashore := map[uuid.UUID]bool{}
	for _, x := range w.in.Party.OnIce(w.in.Now) {
		ashore[x.Person] = !x.OnIce
	}
	base, hasBase := w.base()
	var out []Walker
	for _, g := range w.in.Party.Guests {
		if g.Day != w.day || ashore[g.ID] || g.Since.After(w.in.Now) {
			continue
		}
		x := Walker{Person: g.ID, Role: g.Role, Age: g.Age, Rod: g.Rod}
		var at geo.Local
		at, x.Hole, x.Placed = w.seatOf(g)
		x.Reach = UsualReach(g.Age)
		if g.Reach > 0 {
			x.Reach, x.Told = g.Reach, true
		}
		if hasBase && g.Age == "child" {
			if d := base.Distance(p); d > baseReach {
				x.FromBase = d
			}
		}
		if x.Placed {
			x.Distance = at.Distance(p)
			x.Walk = time.Duration(float64(w.walk(x.Distance)) / safety.WalkShare(g.Age))
			x.Barred = w.walkBarred(at, p, x.Walk)
			x.Can = x.Barred == "" && x.Distance <= x.Reach
		}
		out = append(out, x)
	}
	return out
}

// walkBarred gives why a walk may not be advised; "" when it may.
func (w *world) walkBarred(from, to geo.Local, takes time.Duration) string {
	if float64(from.Distance(to)) <= standing {
		return ""
	}
	done := w.in.Now.Add(takes)
	if !w.inTime(to, done) {
		return "no time left before the turn-back"
	}
	if a := w.hops(from)(to, done); a.Barred && len(a.Reasons) > 0 {
		return a.Reasons[0].Text
	}
	return ""
}

// seatOf gives where a person is: at the hole of the sit, of the rod, of the seat; a guide or scout where the phone is.
func (w *world) seatOf(g *party.Guest) (at geo.Local, hole uuid.UUID, ok bool) {
	seat := g.Seat
	for _, s := range w.in.Party.RodsAt(w.in.Now) {
		if s.Guest == g.ID || s.Guest == uuid.Nil && g.Rod > 0 && s.Rod == g.Rod {
			seat = s.Hole
		}
	}
	if h := w.in.Lake.Hole(seat); h != nil && h.Placed {
		return h.At, h.ID, true
	}
	if g.Role == "guide" || g.Role == "scout" {
		at, ok = w.scout()
	}
	return at, uuid.Nil, ok
}

// base gives where the party's load stands today, which is where its shelter and its warmth are; false when nothing is
// parked on the ice.
func (w *world) base() (geo.Local, bool) {
	var newest *lake.Parked
	for _, x := range w.in.Lake.Parked {
		if x.Until.IsZero() && !x.Since.After(w.in.Now) && !x.Since.Before(w.day.Midnight(w.in.Lake.Zone)) && (newest == nil || x.Since.After(newest.Since)) {
			newest = x
		}
	}
	if newest == nil {
		return geo.Local{}, false
	}
	return newest.At, true
}
