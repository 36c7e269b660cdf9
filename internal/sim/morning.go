package sim

import (
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// today is the demo's day, a Thursday.
const today journal.Day = "2026-01-15"

// now is the demo's hour.
var now = clock(today, 9, 50)

// albrechts is the party of the day: the Albrecht family, Mr Okafor, and the guide. All invented.
func albrechts() []Person {
	return []Person{
		{Name: "Ingrid Vossler", Role: "guide", Age: "adult"},
		{Name: "Jonas Albrecht", Role: "guest", Age: "adult", Rod: 1},
		{Name: "Petra Albrecht", Role: "guest", Age: "adult", Rod: 2},
		{Name: "Lena Albrecht", Role: "guest", Age: "child", Rod: 3},
		{Name: "Tim Albrecht", Role: "guest", Age: "child", Rod: 4},
		{Name: "Mr Okafor", Role: "guest", Age: "elder", Rod: 5},
	}
}

// morning is the day's script up to 09:50.
type morning struct {
	*Diary
	people []Person
	base   geo.Local
	holes  map[int64]*spot
	sits   map[int]uuid.UUID // by rod
	at     map[int]*spot     // hole of each rod
}

// writeMorning notes the first looks of 15 January up to 09:50, and gives where the scout then stands.
func writeMorning(b *Diary) (scout geo.Local, people []Person) {
	m := &morning{Diary: b, people: albrechts(), base: b.lake.Base, holes: map[int64]*spot{}, sits: map[int]uuid.UUID{}, at: map[int]*spot{}}
	m.setOut(clock(today, 6, 42), m.people, journal.Trip{
		Rods: 5, Target: "perch", Aim: "numbers", Travel: "foot", Landing: journal.PointOf(b.lake.Position(b.lake.Landing)), Metres: journal.MM(30 * quantity.Metre),
	})
	m.wayOut()
	m.firstSet()
	m.secondSet()
	m.flurry()
	m.warmUps()
	return m.holes[24].at, m.people
}

// warmUps notes who came into the warm, and that faces were looked at; the pop-up is not heated yet.
func (m *morning) warmUps() {
	for i, p := range m.people {
		minute := 8 + 6*i
		if p.Age == "child" {
			minute = 42
		}
		m.write(hm(9, minute, 0), &journal.Watch{What: "warm", Person: p.ID})
	}
	m.write(hm(9, 40, 0), &journal.Watch{What: "faces"})
}

// hm gives a time of the day.
func hm(hour, minute, second int) time.Time {
	return clock(today, hour, minute).Add(time.Duration(second) * time.Second)
}

// hole drills the next hole of the day and reads its ice when cm is not 0.
func (m *morning) hole(t time.Time, p geo.Local, cm int) *spot {
	h := m.drill(t, p, noted{})
	m.holes[h.number] = h
	if cm > 0 {
		m.iceAt(t.Add(20*time.Second), h, quantity.Length(cm)*quantity.Centimetre)
	}
	return h
}

// wayOut reads the ice on the way: 44, 43 and 41 cm, the crossing C2 tight.
func (m *morning) wayOut() {
	l := m.lake
	before := l.C2.Toward(l.C2.BearingTo(l.Landing), 60*quantity.Metre)
	beyond := l.C2.Toward(l.C2.BearingTo(m.base), 60*quantity.Metre)
	half := geo.Local{E: (l.Landing.E + before.E) / 2, N: (l.Landing.N + before.N) / 2}
	m.hole(hm(6, 58, 0), half, 44)
	m.hole(hm(7, 1, 30), before, 43)
	m.write(hm(7, 3, 0), &journal.Hazard{What: "ridge", Shape: "point", Points: []journal.Point{*journal.PointOf(l.Position(l.C2))},
		Radius: 30_000, Report: "crossing", Gap: journal.MM(0), By: "outfit"})
	m.write(hm(7, 3, 20), &journal.Note{Text: m.text("Crossing C2 tight, flagged.")})
	m.hole(hm(7, 5, 0), beyond, 41)
	line := m.lake.lineGeoJSON([]geo.Local{l.Landing, half, l.C2, beyond, m.base})
	m.write(hm(7, 15, 0), &journal.Track{Blob: m.blob(line), Points: 5, From: hm(6, 42, 0).UnixMilli(), To: hm(7, 15, 0).UnixMilli(), Purpose: "out"})
	m.write(hm(7, 14, 0), &journal.LoadParked{What: "snow machine with sled", Mass: 500_000, At: *journal.PointOf(l.Position(m.base))})
	m.write(hm(7, 14, 30), &journal.Crowd{At: *journal.PointOf(l.Position(m.base.Add(geo.Local{E: 500, N: 750}))), Radius: 60_000, Shelters: 3})
}

// firstSet drills the cross of eight holes about the base; two show marks, and Lena has the first perch.
func (m *morning) firstSet() {
	b := m.base
	arms := []geo.Local{{E: 30}, {E: 60}, {N: 30}, {N: 60}, {E: -30}, {E: -60}, {N: -30}, {N: -60}}
	counts := map[int64]int{5: 2, 9: 3}
	for i, arm := range arms {
		t := hm(7, 15, 0).Add(time.Duration(i) * 4 * time.Minute)
		h := m.hole(t, b.Add(arm), map[int]int{0: 43, 4: 44}[i])
		m.look(t.Add(80*time.Second), h, 30, counts[h.number])
	}
	m.headCount(hm(7, 46, 0), m.people)
	for _, s := range []struct {
		rod, minute int
		hole        int64
	}{{3, 47, 5}, {4, 48, 4}, {1, 49, 9}, {2, 51, 8}, {5, 53, 6}} {
		m.sit(hm(7, s.minute, 0), s.rod, s.hole)
	}
	m.fish(hm(7, 52, 0), 3, 190, true) // Lena's first perch
	m.fish(hm(8, 3, 40), 1, 224, true)
	m.write(hm(8, 5, 10), &journal.Bite{Hole: m.at[1].id, Rod: 1, Sit: m.sits[1]})
	m.fish(hm(8, 11, 0), 1, 181, false)
	m.fish(hm(8, 26, 30), 3, 203, true)
	m.write(hm(8, 31, 0), &journal.Bite{Hole: m.at[3].id, Rod: 3, Sit: m.sits[3]})
}

// secondSet drills twelve holes to the south-west, 150 m apart until hole 17 shows marks, then a ring about it.
func (m *morning) secondSet() {
	counts := map[int64]int{17: 2, 19: 1}
	ice := map[int64]int{12: 44, 14: 45, 16: 45, 17: 44, 20: 45, 22: 46}
	ring := []struct{ bearingDeg, awayM float64 }{{30, 45}, {90, 45}, {150, 45}, {270, 36}, {210, 45}, {330, 45}}
	for i := range 12 {
		t := hm(8, 20, 0).Add(time.Duration(i) * 245 * time.Second)
		p := m.base.Toward(quantity.NewBearing(225), quantity.Length(150*(i+1)))
		if i >= 6 {
			p = m.holes[17].at.Toward(quantity.NewBearing(ring[i-6].bearingDeg), quantity.Length(ring[i-6].awayM))
		}
		h := m.hole(t, p, ice[m.number+1])
		m.look(t.Add(75*time.Second), h, 30, counts[h.number])
	}
	m.headCount(hm(9, 8, 0), m.people)
}

// flurry is what follows at holes 17, 21 and 24: a school that passes westwards at some 150 m an hour.
func (m *morning) flurry() {
	m.look(hm(9, 7, 0), m.holes[17], 30, 6)
	for _, s := range []struct {
		rod    int
		minute int
		hole   int64
	}{{1, 9, 17}, {3, 10, 17}, {2, 10, 20}, {4, 11, 22}, {5, 12, 21}} {
		m.sit(hm(9, s.minute, 0), s.rod, s.hole)
	}
	for _, f := range []struct {
		minute, second, rod int
		mm                  int64
		kept                bool
	}{
		{12, 10, 1, 243, true}, {13, 30, 3, 211, true}, {14, 20, 1, 232, true}, {15, 40, 1, 176, false}, {17, 5, 3, 251, true}, {18, 15, 1, 228, true},
		{19, 30, 3, 168, false}, {21, 0, 1, 262, true}, {22, 40, 1, 181, false}, {24, 10, 3, 219, true}, {26, 0, 1, 173, false}, // hole 17
		{31, 15, 5, 236, true}, {33, 20, 5, 247, true}, {35, 50, 5, 184, false}, {38, 40, 5, 222, true}, // hole 21
	} {
		m.fish(hm(9, f.minute, f.second), f.rod, f.mm, f.kept)
	}
	m.look(hm(9, 29, 30), m.holes[17], 30, 0)
	m.sit(hm(9, 40, 0), 2, 21)
	h := m.hole(hm(9, 42, 0), m.holes[17].at.Toward(quantity.NewBearing(270), 78*quantity.Metre), 46)
	m.look(hm(9, 43, 10), h, 30, 3)
	m.sit(hm(9, 45, 0), 1, 24)
	m.fish(hm(9, 47, 40), 1, 239, true)
	m.fish(hm(9, 49, 10), 1, 227, true)
}

// sit brings a rod to a hole; the sit that it leaves ends a minute before.
func (m *morning) sit(t time.Time, rod int, hole int64) {
	if sit, ok := m.sits[rod]; ok {
		m.write(t.Add(-time.Minute), &journal.SitEnd{Sit: sit, Why: "moved"})
	}
	h := m.holes[hole]
	m.sits[rod], m.at[rod] = m.write(t, &journal.SitStart{Hole: h.id, Rod: int64(rod), Guest: m.people[rod].ID, Target: "perch"}), h
}

// fish lands a perch on a rod where it sits.
func (m *morning) fish(t time.Time, rod int, mm int64, kept bool) {
	m.write(t, &journal.Fish{Hole: m.at[rod].id, Rod: int64(rod), Guest: m.people[rod].ID, Sit: m.sits[rod], Species: "perch", Length: &mm,
		Size: sizeOf(quantity.FromMillimetres(mm)), Kept: kept, Count: 1})
}

// sizeOf classes a perch as the outfit does.
func sizeOf(length quantity.Length) string {
	switch {
	case length >= 30*quantity.Centimetre:
		return "big"
	case length >= 22*quantity.Centimetre:
		return "good"
	}
	return "small"
}
