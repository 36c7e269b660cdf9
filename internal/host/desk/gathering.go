package desk

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
	"icehand/internal/trade/party"
	"icehand/internal/trade/tally"
)

// Member is one of the party as the guide needs to know: never shown to guests.
type Member struct {
	*party.Guest
	Name    string
	Notes   string
	Licence string // its state: seen, not_seen, expired, none_needed is the guide's to say
	Number  bool   // its number is on this device
	Where   party.Whereabouts
	Told    bool       // somebody has reported where they are
	Hole    *lake.Hole // where their line is, else their seat; nil when not known
	Fishing bool       // a line of theirs is down
	Waited  time.Duration
	Fished  bool // Waited runs since a fish, not since the line went down
	Twice   bool // another of the day has the same name
}

// States of a licence.
const (
	LicenceSeen    = "seen"
	LicenceNotSeen = "not_seen"
	LicenceExpired = "expired"
)

// Gathering is the party of today with what is left and what stands open.
type Gathering struct {
	Now      time.Time
	Day      journal.Day
	Members  []Member
	Loud     []string // names of those whose reports contradict, or who are out of sight
	Supplies []party.Supply
	Open     []*lake.Hole // holes that may stand open
	Calling  *Calling     // nil: no fish are at a hole
	Seats    []advise.Seat
	Base     string // what counts as the base: parked, first_sit; "": no base, so no seat plan
}

// Calling says whom to call over, to which hole.
type Calling struct {
	Hole  *lake.Hole
	Since time.Time // the first sign of this spell
	Last  time.Time
	Stay  time.Duration
	Rests int // earlier spells that it rests on
	Who   []advise.Called
}

// Gathering answers: who is where, who has waited how long, what is left, whom to call over?
func (d *Desk) Gathering(ctx context.Context) (g Gathering, err error) {
	err = d.Read(ctx, func(v View) error {
		if err := d.needLake(); err != nil {
			return err
		}
		g = Gathering{Now: v.Now, Day: v.Today, Open: d.lake.OpenOn(v.Today, v.Now)}
		d.members(v, &g)
		for _, what := range []string{"bait", "battery", "fuel", "heat"} {
			if s, ok := d.party.Left(v.Today, what, v.Now); ok {
				g.Supplies = append(g.Supplies, s)
			}
		}
		d.calling(v, &g)
		d.seats(v, &g)
		return nil
	})
	return g, err
}

// members gathers everybody of the day.
func (d *Desk) members(v View, g *Gathering) {
	where := map[uuid.UUID]party.Whereabouts{}
	for _, w := range d.party.OnIce(v.Now) {
		where[w.Person] = w
	}
	names := map[string]int{}
	for _, p := range d.party.Guests {
		if p.Day != v.Today {
			continue
		}
		m := Member{Guest: p, Name: v.Name(p.Name), Number: p.Licence != nil, Licence: LicenceNotSeen}
		if p.Notes != nil {
			m.Notes = v.Name(*p.Notes)
		}
		switch {
		case p.Until != "" && p.Until < v.Today:
			m.Licence = LicenceExpired
		case p.Seen:
			m.Licence = LicenceSeen
		}
		m.Where, m.Told = where[p.ID]
		if m.Told && (m.Where.Contradictory || m.Where.State == "unseen") {
			g.Loud = append(g.Loud, m.Name)
		}
		d.waiting(v, &m)
		names[folded(m.Name)]++
		g.Members = append(g.Members, m)
	}
	for i := range g.Members {
		g.Members[i].Twice = g.Members[i].Name != "" && names[folded(g.Members[i].Name)] > 1
	}
}

// waiting finds where somebody fishes and how long they have waited for a fish.
func (d *Desk) waiting(v View, m *Member) {
	if m.Seat != uuid.Nil {
		m.Hole = d.lake.Hole(m.Seat)
	}
	var first time.Time
	for _, s := range d.party.Sits {
		if s.Day != v.Today || s.From.After(v.Now) || s.Guest != m.ID && (s.Guest != uuid.Nil || m.Rod == 0 || s.Rod != m.Rod) {
			continue
		}
		if first.IsZero() {
			first = s.From
		}
		if s.Lasting(v.Now) {
			m.Hole, m.Fishing = d.lake.Hole(s.Hole), true
		}
	}
	for _, f := range d.party.Fish {
		if f.Day == v.Today && f.Guest == m.ID && !f.When.After(v.Now) {
			first, m.Fished = f.When, true
		}
	}
	if !first.IsZero() {
		m.Waited = v.Now.Sub(first)
	}
}

// sign is a sign of fish at a hole.
type sign struct {
	hole    uuid.UUID
	when    time.Time
	species string
}

// signs lists the signs of fish up to now, by time.
func (d *Desk) signs(now time.Time) (out []sign) {
	for _, l := range d.lake.Looks {
		if l.Marks > 0 {
			out = append(out, sign{l.Hole, l.When, ""})
		}
	}
	for _, b := range d.party.Bites {
		out = append(out, sign{b.Hole, b.When, ""})
	}
	for _, f := range d.party.Fish {
		if f.Hole != uuid.Nil {
			out = append(out, sign{f.Hole, f.When, f.Species})
		}
	}
	out = slices.DeleteFunc(out, func(s sign) bool { return s.when.After(now) })
	slices.SortStableFunc(out, func(a, b sign) int { return a.when.Compare(b.when) })
	return out
}

// calling finds the hole with the newest fish of the last minutes, and says whom to call there.
func (d *Desk) calling(v View, g *Gathering) {
	all := d.signs(v.Now)
	byHole := map[uuid.UUID][]time.Time{}
	var newest *sign
	for i, s := range all {
		byHole[s.hole] = append(byHole[s.hole], s.when)
		if h := d.lake.Hole(s.hole); h != nil && h.Placed && v.Now.Sub(s.when) <= advise.SpellGap {
			newest = &all[i]
		}
	}
	if newest == nil {
		return
	}
	var past []advise.Spell
	for hole, times := range byHole {
		spells := advise.Spells(times)
		if hole == newest.hole {
			now := spells[len(spells)-1]
			g.Calling = &Calling{Hole: d.lake.Hole(hole), Since: now.First, Last: now.Last}
			spells = spells[:len(spells)-1]
		}
		past = append(past, spells...)
	}
	c := g.Calling
	c.Stay, c.Rests = advise.StayLeft(past, v.Now.Sub(c.Since))
	species := newest.species
	if t := d.party.Trip(v.Today); species == "" && t != nil {
		species = t.Target
	}
	sheet := v.Sheet(v.Today, v.Now)
	var callers []advise.Caller
	for _, m := range g.Members {
		if m.Role == "guest" {
			callers = append(callers, d.caller(m, g, c.Hole.At, sheet, species))
		}
	}
	c.Who = advise.CallOver(callers, c.Stay)
}

// base gives where the party's load stands today, else where its first line of the day went down.
func (d *Desk) base(v View) (at geo.Local, how string) {
	for _, p := range d.lake.Parked {
		if journal.DayOf(p.Since, d.lake.Zone) == v.Today && !p.Since.After(v.Now) && p.Until.IsZero() {
			at, how = p.At, "parked"
		}
	}
	for _, s := range d.party.Sits {
		if h := d.lake.Hole(s.Hole); how == "" && s.Day == v.Today && h != nil && h.Placed {
			return h.At, "first_sit"
		}
	}
	return at, how
}

// seats puts the guests at the open holes that were looked into today.
func (d *Desk) seats(v View, g *Gathering) {
	base, how := d.base(v)
	if how == "" {
		return
	}
	looked := map[uuid.UUID]bool{}
	for _, l := range d.lake.Looks {
		looked[l.Hole] = looked[l.Hole] || !l.When.After(v.Now)
	}
	signs := map[uuid.UUID]int{}
	for _, s := range d.signs(v.Now) {
		if journal.DayOf(s.when, d.lake.Zone) == v.Today {
			signs[s.hole]++
			looked[s.hole] = true
		}
	}
	var holes []advise.SeatHole
	for _, h := range g.Open {
		if h.Placed && looked[h.ID] {
			holes = append(holes, advise.SeatHole{Hole: h.ID, At: h.At, Signs: signs[h.ID]})
		}
	}
	var people []advise.Sitter
	for _, m := range g.Members {
		if m.Role != "guest" || m.Told && (!m.Where.OnIce || m.Where.State == "leaving" || m.Where.State == "unseen") {
			continue
		}
		s := advise.Sitter{Person: m.ID, Age: m.Age, Reach: m.Reach}
		if s.Reach == 0 {
			s.Reach = advise.UsualReach(m.Age)
		}
		people = append(people, s)
	}
	g.Seats, g.Base = advise.Seats(people, holes, base), how
}

// usualStep is how fast somebody of an age walks over snow who was not measured; common practice, no source.
var usualStep = map[string]quantity.Speed{"child": 0.7, "elder": 0.7, "adult": 1.0}

// caller is one of the party as somebody who could be called.
func (d *Desk) caller(m Member, g *Gathering, to geo.Local, sheet *tally.Sheet, species string) advise.Caller {
	x := advise.Caller{Person: m.ID, Waited: m.Waited, Walk: -1, Pace: usualStep[m.Age], Reach: m.Reach, Child: m.Age == "child", FromAdult: -1,
		Away: m.Told && (!m.Where.OnIce || m.Where.State == "leaving" || m.Where.State == "unseen")}
	if x.Pace == 0 {
		x.Pace = usualStep["adult"]
	}
	if x.Reach == 0 {
		x.Reach = advise.UsualReach(m.Age)
	}
	if m.Hole != nil && m.Hole.Placed {
		x.Walk = m.Hole.At.Distance(to)
	}
	if row, ok := sheet.Of(m.ID, species); ok {
		x.AtLimit = row.State == tally.Full || row.State == tally.Beyond
	}
	for _, o := range g.Members {
		if o.Age != "child" && o.ID != m.ID && o.Hole != nil && o.Hole.Placed {
			if l := o.Hole.At.Distance(to); x.FromAdult < 0 || l < x.FromAdult {
				x.FromAdult = l
			}
		}
	}
	return x
}

// Roster is what is told of one of the party; nil leaves a thing as it is.
type Roster struct {
	Notes   *string // health and clothing
	Licence *string // its number
	Seen    *bool
	Until   *journal.Day
}

// TellRoster tells something of one of the party. Notes and numbers are kept as texts that can be erased.
func (d *Desk) TellRoster(ctx context.Context, a Act, person uuid.UUID, r Roster) error {
	return d.record(ctx, a, func(a Act) error {
		if d.party.Guest(person) == nil {
			return fault.New(fault.NotFound, "Choose somebody of today.", "that person is not on record")
		}
		if r.Until != nil && *r.Until != "" && !r.Until.Valid() {
			return fault.New(fault.BadInput, "Write it as 2026-12-31.", "%q is not a date", string(*r.Until))
		}
		set := map[string]any{}
		for field, text := range map[string]*string{"notes": r.Notes, "licence": r.Licence} {
			if text == nil {
				continue
			}
			if strings.TrimSpace(*text) == "" {
				set[field] = nil
				continue
			}
			t, err := d.store.PutText(ctx, strings.TrimSpace(*text))
			if err != nil {
				return fault.Wrap(err, fault.NotSaved, "Try again.", "the notes were not saved")
			}
			set[field] = t
		}
		if r.Seen != nil {
			set["licence_seen"] = *r.Seen
		}
		if r.Until != nil {
			set["licence_until"] = *r.Until
		}
		if len(set) == 0 {
			return nil
		}
		return d.amend(ctx, a, person, set, "what is known of somebody")
	})
}
