package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/party"
	"icehand/internal/trade/rules"
)

// Against is something that the law has against the day as it stands, besides the ledger. Nothing is ever refused for it: it is said.
type Against struct {
	Code   string // licence, licence_expired, lines, hours, season, unverified, tick, second_trip, unattended, cleaned_on_ice, zone, unmarked, hole_wide
	Person uuid.UUID
	Text   string
	Before bool // it must be settled before a line drops
}

// Lawful lists what the law has against the day as it stands: first what must be settled before a line drops. Nobody out and nothing told gives nothing.
func (v View) Lawful() (out []Against) {
	law := v.Law(v.Today)
	x := lawful{View: v, law: law, where: map[uuid.UUID]party.Whereabouts{}}
	for _, w := range v.Party.OnIce(v.Now) {
		x.where[w.Person] = w
	}
	for _, g := range v.Party.Guests {
		if g.Day == v.Today {
			x.people = append(x.people, g)
		}
	}
	if len(x.people) == 0 || len(law.Versions) == 0 {
		return nil
	}
	x.licences()
	x.openHours()
	x.lines()
	x.ticks()
	x.areas()
	x.goingOut()
	x.attended()
	x.holes()
	x.cleaned()
	slices.SortStableFunc(x.out, func(a, b Against) int { return one(b.Before) - one(a.Before) })
	return x.out
}

type lawful struct {
	View
	law    rules.Law
	people []*party.Guest
	where  map[uuid.UUID]party.Whereabouts
	out    []Against
}

// done tells whether somebody is ashore after having been out.
func (x *lawful) done(g *party.Guest) bool {
	w, told := x.where[g.ID]
	return told && !w.OnIce
}

// allDone tells whether everybody is ashore again.
func (x *lawful) allDone() bool {
	return !slices.ContainsFunc(x.people, func(g *party.Guest) bool { return !x.done(g) })
}

func (x *lawful) found(before bool, person uuid.UUID, fs []rules.Finding) {
	for _, f := range fs {
		x.out = append(x.out, Against{f.Code, person, f.Text, before})
	}
}

// licences asks for those of everybody who needs one and is not ashore again.
func (x *lawful) licences() {
	if !x.law.Verified() && !x.allDone() {
		x.out = append(x.out, Against{"unverified", uuid.Nil, "the rule book is unverified", true})
	}
	for _, g := range x.people {
		if x.done(g) || !x.law.Licensed(g.Age == "child") {
			continue
		}
		switch {
		case g.Until != "" && g.Until < x.Today:
			x.out = append(x.out, Against{"licence_expired", g.ID, "licence ran out " + string(g.Until), true})
		case !g.Seen && g.Role == "guest":
			x.out = append(x.out, Against{"licence", g.ID, "licence not seen", true})
		}
	}
}

// target is what the day is about.
func (x *lawful) target() string {
	if t := x.Party.Trip(x.Today); t != nil && t.Target != "" {
		return t.Target
	}
	return "perch"
}

// openHours tells a season or hours that are closed now.
func (x *lawful) openHours() {
	if x.allDone() {
		return
	}
	species := x.target()
	if open, by := x.law.Open(species); !open {
		x.out = append(x.out, Against{"season", uuid.Nil, "closed season: " + by.String(), true})
		return
	}
	from, to := hoursOn(x.Lake, x.law, x.Today, species)
	clock := func(t time.Time) string { return t.In(x.Lake.Zone).Format("15:04") }
	switch {
	case !from.IsZero() && !from.Before(to):
		x.out = append(x.out, Against{"hours", uuid.Nil, species + ": no lawful hour today", true})
	case !from.IsZero() && x.Now.Before(from):
		x.out = append(x.out, Against{"hours", uuid.Nil, species + ": closed hours until " + clock(from), true})
	case !to.IsZero() && !x.Now.Before(to):
		x.out = append(x.out, Against{"hours", uuid.Nil, species + ": closed hours since " + clock(to), true})
	}
}

// lines counts lines in the water against those that are lawful, and before the first one those that the trip brings.
func (x *lawful) lines() {
	sits := x.Party.RodsAt(x.Now)
	r, ok := x.law.LinesEach()
	if !ok {
		return
	}
	by := map[uuid.UUID]int{}
	for _, s := range sits {
		if who := x.whose(s); who != uuid.Nil {
			by[who]++
		}
	}
	for _, g := range x.people {
		x.found(true, g.ID, x.law.Lines(by[g.ID]))
	}
	fishing := 0
	for _, g := range x.people {
		if g.Role == "guest" && !x.done(g) {
			fishing++
		}
	}
	n, what := len(sits), "in the water"
	if t := x.Party.Trip(x.Today); t != nil && n == 0 && !x.allDone() {
		n, what = t.Rods, "brought"
	}
	if most := fishing * r.Count; fishing > 0 && n > most {
		x.out = append(x.out, Against{"lines", uuid.Nil, fmt.Sprintf("%d lines %s, the most for %d people is %d", n, what, fishing, most), true})
	}
}

// whose gives who fishes in a sit: as told, else whose rod it is; zero when nobody said.
func (x *lawful) whose(s *party.Sit) uuid.UUID {
	if s.Guest != uuid.Nil {
		return s.Guest
	}
	for _, g := range x.people {
		if g.Rod == s.Rod && g.Rod != 0 {
			return g.ID
		}
	}
	return uuid.Nil
}

// ticks asks for what somebody has to say before lines drop.
func (x *lawful) ticks() {
	if x.allDone() {
		return
	}
	told := x.Ticked(x.Today)
	for _, d := range x.law.Duties() {
		if d.When == rules.Before && d.Tick != "" && !told[d.Tick] {
			x.out = append(x.out, Against{"tick", uuid.Nil, d.Text + " Not ticked today", true})
		}
	}
}

// areas holds the areas of the trip plan against closed zones.
func (x *lawful) areas() {
	p := x.Party.Plan(x.Today)
	if p == nil {
		return
	}
	var s Sheet
	if json.Unmarshal([]byte(x.Name(p.Sheet)), &s) != nil { // erased
		return
	}
	t := x.Party.Trip(x.Today)
	for _, a := range s.Areas {
		x.found(true, uuid.Nil, x.law.Area(a, t != nil && t.Travel != "foot"))
	}
}

// goingOut looks for people who went out twice.
func (x *lawful) goingOut() {
	from := x.Today.Midnight(x.Lake.Zone)
	for _, g := range x.people {
		x.found(false, g.ID, x.law.Outing(x.Party.Outings(g.ID, from, x.Now.Add(time.Second))))
	}
}

// attended looks for lines that nobody is by, or that were long not looked at.
func (x *lawful) attended() {
	for _, s := range x.Party.RodsAt(x.Now) {
		who := x.whose(s)
		w, told := x.where[who]
		away := told && (!w.OnIce || w.State == "leaving" || w.State == "unseen")
		x.found(false, who, x.law.Line(who == uuid.Nil || !away, x.Now.Sub(x.tended(s))))
	}
}

// tended gives when something was last told of a sit.
func (x *lawful) tended(s *party.Sit) time.Time {
	last := s.From
	seen := func(t time.Time, mine bool) {
		if mine && t.After(last) && !t.After(x.Now) {
			last = t
		}
	}
	for _, l := range x.Lake.Looks {
		seen(l.When, l.Hole == s.Hole)
	}
	for _, b := range x.Party.Bites {
		seen(b.When, b.Hole == s.Hole)
	}
	for _, f := range x.Party.Fish {
		seen(f.When, f.Hole == s.Hole)
	}
	for _, p := range x.Party.Present {
		seen(p.When, p.Sit == s.ID)
	}
	return last
}

// holes looks for open holes without a mark, and for holes that are too wide.
func (x *lawful) holes() {
	open, left := 0, 0
	fished := map[uuid.UUID]bool{}
	for _, s := range x.Party.RodsAt(x.Now) {
		fished[s.Hole] = true
	}
	for _, h := range x.Lake.OpenOn(x.Today, x.Now) {
		if h.State != "marked" {
			open++
			left += one(!fished[h.ID])
		}
	}
	x.found(false, uuid.Nil, x.law.Unmarked(open, left))
	for _, h := range x.Lake.HolesOn(x.Today) {
		if fs := x.law.Wide(h.Diameter); len(fs) > 0 {
			x.found(false, uuid.Nil, fs)
			return
		}
	}
}

// cleaned looks for fish cleaned by somebody who was on the ice then.
func (x *lawful) cleaned() {
	for _, m := range x.ledger.Moves {
		if m.Day != x.Today || m.What != "processed" || m.When.After(x.Now) {
			continue
		}
		for _, w := range x.Party.OnIce(m.When) {
			if w.Person == m.Person {
				x.found(false, m.Person, x.law.Cleaned(m.Species, w.OnIce))
			}
		}
	}
}

// tickSetting is the key of what was ticked of the law's duties; the newest of a day counts.
const tickSetting = "law_ticks"

// Ticked gives what was ticked of the law's duties of a day.
func (v View) Ticked(day journal.Day) map[string]bool {
	for _, s := range slices.Backward(v.Lake.Settings(tickSetting)) {
		var t Talk // the same layout: a day and what was told
		if !s.When.After(v.Now) && json.Unmarshal(s.Value, &t) == nil && t.Day == day && t.Told != nil {
			return t.Told
		}
	}
	return map[string]bool{}
}

// TellTicks records which duties are done on a day, added to those that were; only what the day's law asks can be ticked.
func (d *Desk) TellTicks(ctx context.Context, a Act, day journal.Day, ticks []string) error {
	var body *journal.Setting
	err := d.Read(ctx, func(v View) (err error) {
		body, err = v.ticks(day, ticks)
		return err
	})
	if err != nil {
		return err
	}
	return d.Record(ctx, a, body)
}

// ticks gives the entry of duties done, or says which of them the law does not ask.
func (v View) ticks(day journal.Day, ticks []string) (*journal.Setting, error) {
	t := Talk{Day: day, Told: map[string]bool{}}
	for k := range v.Ticked(day) {
		t.Told[k] = true
	}
	for _, k := range ticks {
		if !slices.ContainsFunc(v.Law(day).Duties(), func(x rules.Duty) bool { return x.Tick == k && k != "" }) {
			return nil, fault.New(fault.BadInput, "Tick what the rule book asks.", "%q is nothing that the rule book asks", k)
		}
		t.Told[k] = true
	}
	value, err := json.Marshal(t)
	if err != nil {
		return nil, fmt.Errorf("desk: duties done: %w", err)
	}
	return &journal.Setting{Key: tickSetting, Value: value}, nil
}
