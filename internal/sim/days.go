package sim

import (
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// pastDays lists the fortnight before the demo's day: whom the guide took out, and what was written at its close.
var pastDays = []struct {
	day    journal.Day
	family string // "" for a scouting day alone
	note   string
}{
	{"2026-01-02", "Brandvold", "Wet snow, short walks. Kept to the near flat."},
	{"2026-01-03", "Larkspur", "Thaw. Water on the ice by noon."},
	{"2026-01-05", "", "Scouted. Ridge open since the wind of the 4th."},
	{"2026-01-06", "Quarles", "Cold again. Crust carries."},
	{"2026-01-07", "Ashdown", "Clear and still."},
	{"2026-01-08", "Merriweather", "Phone died 11:40, rest of the noon typed from paper."},
	{"2026-01-09", "Okonjo", "Coldest morning so far. Faces checked every half hour."},
	{"2026-01-10", "Tveit", "Ridge closing; 12 cm at C2."},
	{"2026-01-11", "Haldane", "Grey and windy, fish moved a lot."},
	{"2026-01-12", "", "Scouted alone, blew hard at first."},
	{"2026-01-13", "Pemberly", "Good size in the afternoon."},
	{"2026-01-14", "Castellan", "Two tallies mixed up, put right ashore."},
}

// partyOf makes five guests of a family and the guide; a scouting day has the guide alone.
func partyOf(family string) []Person {
	people := []Person{{Name: "Ingrid Vossler", Role: "guide", Age: "adult"}}
	if family == "" {
		return people
	}
	for i, first := range []string{"Anders", "Birgit", "Cyril", "Dora", "Emil"} {
		age := "adult"
		if i >= 3 {
			age = "child"
		}
		people = append(people, Person{Name: first + " " + family, Role: "guest", Age: age, Rod: i + 1})
	}
	return people
}

// fortnight lives through the past days and notes them. It gives what came of each guided day.
func fortnight(b *Diary, w *World) []Tally {
	rng := num.NewStream(b.seed, "starts")
	var tallies []Tally
	var last *geo.Local
	for _, p := range pastDays {
		o := Outing{Day: p.day, People: partyOf(p.family), Heading: quantity.NewBearing(360 * rng.Float64()), Travel: "foot",
			First: clock(p.day, 7, 20+rng.IntN(15)), LinesUp: clock(p.day, 14, 45+rng.IntN(25))}
		if p.family == "" {
			o.LinesUp = clock(p.day, 11, 30)
		}
		o.Start = w.GoodStart(rng, last)
		if p.day == "2026-01-08" {
			b.silent(clock(p.day, 11, 40), clock(p.day, 13, 5), clock(p.day, 16, 50))
		}
		t := w.GuideDay(b, o)
		b.write(o.LinesUp.Add(3*time.Hour), &journal.Note{Text: b.text(p.note)})
		if last = nil; t.BestFish > 3 {
			last = &t.Best
		}
		if p.family != "" {
			tallies = append(tallies, t)
		}
	}
	return tallies
}

// soil puts in what goes wrong in real journals, in moderation. Errors of fix and missing depths are in every day already.
func soil(b *Diary) {
	b.write(clock("2026-01-07", 10, 2), &journal.ClockJump{Before: clock("2026-01-07", 10, 2).UnixMilli(), After: clock("2026-01-07", 10, 9).UnixMilli(), Mono: 1500})

	if ends := b.of("2026-01-10", journal.KindSitEnd); len(ends) > 7 { // a sit whose end nobody noted
		b.Drafts = append(b.Drafts[:ends[7]], b.Drafts[ends[7]+1:]...)
	}
	if holes := b.of("2026-01-11", journal.KindHole); len(holes) > 11 { // a hole noted twice, 4 m apart
		first := b.Drafts[holes[11]]
		h := decode(first).(*journal.Hole)
		if h.At != nil {
			at := b.lake.Frame.Local(h.At.Position()).Toward(quantity.NewBearing(60), 4*quantity.Metre)
			h.At = journal.PointOf(b.lake.Position(at))
		}
		twice := b.write(time.UnixMilli(first.At).Add(12*time.Second), h)
		b.write(clock("2026-01-11", 16, 20), &journal.Retract{Target: twice, Why: "hole noted twice"})
	}
	if fish := b.of("2026-01-13", journal.KindFish); len(fish) > 5 { // a slipped decimal point
		d := &b.Drafts[fish[5]]
		f := decode(*d).(*journal.Fish)
		f.Length, f.Flag = nil, "length of 303 cm not believed, left out"
		d.Body = encode(f)
	}
	fish := b.of("2026-01-14", journal.KindFish)
	if len(fish) < 8 {
		return
	}
	evening := clock("2026-01-14", 17, 40)
	guests := b.of("2026-01-14", journal.KindGuest)
	b.write(evening, &journal.Amend{Target: b.Drafts[fish[2]].ID, Set: map[string]json.RawMessage{"guest": encode(b.Drafts[guests[len(guests)-1]].ID)},
		Why: "entered on the wrong person"})
	for i, mm := range []int{221, 212} { // two corrections that contradict each other
		b.write(evening.Add(time.Duration(i+1)*time.Minute), &journal.Amend{Target: b.Drafts[fish[6]].ID,
			Set: map[string]json.RawMessage{"length_mm": fmt.Appendf(nil, "%d", mm)}, Why: "measured again"})
	}
}

// of gives where the drafts of a kind on a day stand.
func (b *Diary) of(day journal.Day, kind journal.Kind) []int {
	var out []int
	for i, d := range b.Drafts {
		if d.Day == day && d.Kind == kind && d.Trip != uuid.Nil {
			out = append(out, i)
		}
	}
	return out
}

// decode reads a draft's body.
func decode(d journal.Draft) journal.Body {
	return journal.Decode(&journal.Entry{Kind: d.Kind, Version: d.Version, Body: d.Body})
}
