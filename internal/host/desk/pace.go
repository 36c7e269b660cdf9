package desk

import (
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// What the record is asked about a pace; ours.
const (
	paceDays  = 30               // days back that a pace of earlier days may come from: snow and party change
	countNear = 15 * time.Minute // a head count this soon after a line tells who came along
)

// partyPace gives the pace of a day's party, and what the slowest of those not surely ashore makes of it.
func (d *Desk) partyPace(travel string, day journal.Day, now time.Time) safety.Paced {
	var walkers []safety.Walker
	for _, g := range d.outToday(day, now) {
		walkers = append(walkers, safety.Walker{ID: g.ID, Age: g.Age})
	}
	return safety.PartyPace(travel, d.travelled(travel, day, now), d.earlier(travel, day, now), walkers)
}

// earlierCache keeps the party's lines of earlier days as long as nothing new is on record: a month of fixes is long to go through for every page.
type earlierCache struct {
	key       earlierKey
	stretches []safety.Stretch
}

type earlierKey struct {
	day    journal.Day
	travel string
	facts  int
}

// earlier gives the party's lines of the month before a day.
func (d *Desk) earlier(travel string, day journal.Day, now time.Time) []safety.Stretch {
	key := earlierKey{day, travel, len(d.log.Facts())}
	if d.before.key == key {
		return d.before.stretches
	}
	d.before = earlierCache{key: key}
	since := journal.DayOf(now.AddDate(0, 0, -paceDays), d.lake.Zone)
	for _, l := range d.recorded(since, now) {
		if l.Day < day && l.Travel == travel && l.Purpose != "scouting" {
			d.before.stretches = append(d.before.stretches, safety.Stretch{Length: l.Length, Took: l.Moving, Party: true})
		}
	}
	return d.before.stretches
}

// travelled gives what the record says of a day's travel so far: the party's lines out and home, scouting lines, and the legs from hole
// to hole of whoever drilled them.
func (d *Desk) travelled(travel string, day journal.Day, now time.Time) (out []safety.Stretch) {
	for _, l := range d.recorded(day, now) {
		if l.Day == day && l.Travel == travel {
			out = append(out, safety.Stretch{Length: l.Length, Took: l.Moving, Party: l.Purpose != "scouting", Who: d.cameAlong(l)})
		}
	}
	left := map[uuid.UUID]time.Time{} // when each hole was left: the last record at it before the next hole
	for _, l := range d.lake.Looks {
		left[l.Hole] = l.When
	}
	before := map[uuid.UUID]*lake.Hole{} // by writer
	for _, h := range d.lake.HolesOn(day) {
		if !h.Placed || h.Drilled.After(now) {
			continue
		}
		if a := before[h.Writer]; a != nil {
			from := a.Drilled
			if l := left[a.ID]; l.After(from) && l.Before(h.Drilled) {
				from = l
			}
			out = append(out, safety.Stretch{Length: a.At.Distance(h.At), Took: h.Drilled.Sub(from)})
		}
		before[h.Writer] = h
	}
	return out
}

// cameAlong gives who is known to have come along on a line: those told, else whoever answered the head count that closed it.
func (d *Desk) cameAlong(l Line) []uuid.UUID {
	if len(l.People) > 0 || l.Purpose == "scouting" {
		return l.People
	}
	for i := len(d.party.Counts) - 1; i >= 0; i-- {
		if c := d.party.Counts[i]; !c.When.Before(l.To) && !c.When.After(l.To.Add(countNear)) {
			return c.Present
		}
	}
	return nil
}

// lineLength gives the length of a line without times.
func lineLength(fixes []safety.Fix) (length quantity.Length) {
	for i := 1; i < len(fixes); i++ {
		length += fixes[i-1].At.Distance(fixes[i].At)
	}
	return length
}

// lineReach is how near to a line a hole lies that was drilled on it; as the corridor of guidance, twice.
const lineReach = 30 * quantity.Metre

// lineOut gives the line that a phone recorded on the way out, from the landing on, thinned; nil without one that begins there.
func (d *Desk) lineOut(day journal.Day, home geo.Local, now time.Time) []geo.Local {
	lines := d.recorded(day, now)
	for i := len(lines) - 1; i >= 0; i-- {
		l := lines[i]
		if l.Day != day || l.Purpose != "out" || !l.Timed || len(l.Points) < 2 || l.Points[0].Distance(home) > joinLanding {
			continue
		}
		return append([]geo.Local{home}, thinLine(l.Points, lineDetail)...)
	}
	return nil
}

const (
	joinLanding = 100 * quantity.Metre // a line that begins farther from the landing does not lead to it; ours
	lineDetail  = 5.0                  // m: what a fix is off
)
