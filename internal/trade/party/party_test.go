package party

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/num"
	"icehand/internal/trade/journal"
)

var (
	lakeID = uuid.UUID{8}
	t0     = time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC)
)

type writer struct {
	t    *testing.T
	head journal.Head
	out  []*journal.Entry
}

func (w *writer) add(minute int, body journal.Body) uuid.UUID {
	w.t.Helper()
	return w.addAt(minute, minute, body)
}

// addAt adds what happened at one minute and was written at another.
func (w *writer) addAt(minute, written int, body journal.Body) uuid.UUID {
	w.t.Helper()
	a := journal.Author{Outfit: uuid.UUID{9}, Lake: lakeID, Account: w.head.Journal, Zone: time.UTC}
	id := journal.ContentID(w.head.Journal, body.Kind(), string(rune(w.head.N)))
	e, err := journal.Seal(w.head, a.Draft(id, at(minute), at(written), body))
	if err != nil {
		w.t.Fatal(err)
	}
	w.head = journal.HeadOf(&e)
	w.out = append(w.out, &e)
	return id
}

func fold(t *testing.T, ws ...*writer) *View {
	t.Helper()
	var log journal.Log
	for _, w := range ws {
		if err := log.Add(w.out...); err != nil {
			t.Fatal(err)
		}
	}
	v := New(lakeID)
	v.Sync(&log)
	return v
}

func at(minute int) time.Time { return t0.Add(time.Duration(minute) * time.Minute) }

func TestSits(t *testing.T) {
	w := &writer{t: t, head: journal.Head{Journal: uuid.UUID{1}}}
	hole := uuid.UUID{1, 2}
	a := w.add(0, &journal.SitStart{Hole: hole, Rod: 2})
	w.add(1, &journal.SitStart{Hole: hole, Rod: 1})
	w.add(20, &journal.SitEnd{Sit: a})
	w.add(30, &journal.SitEnd{Sit: a}) // a second end changes nothing
	v := fold(t, w)
	if rods := v.RodsAt(at(10)); len(rods) != 2 || rods[0].Rod != 1 {
		t.Errorf("at 10 min: %+v", rods)
	}
	if rods := v.RodsAt(at(25)); len(rods) != 1 || rods[0].Rod != 1 {
		t.Errorf("at 25 min: %+v", rods)
	}
	if rods := v.RodsAt(at(24 * 60)); len(rods) != 0 {
		t.Errorf("a sit without an end does not last for a day: %+v", rods)
	}
}

func TestTallyCountsFishWithoutName(t *testing.T) {
	w := &writer{t: t, head: journal.Head{Journal: uuid.UUID{1}}}
	jonas := uuid.UUID{5}
	w.add(0, &journal.Fish{Species: "perch", Kept: true, Count: 1, Guest: jonas})
	w.add(1, &journal.Fish{Species: "perch", Kept: true, Count: 2})
	w.add(2, &journal.Fish{Species: "perch", Kept: false, Count: 1, Guest: jonas})
	tally := fold(t, w).Tally("2026-01-15")
	if tally[jonas].Kept["perch"] != 1 || tally[jonas].PutBack["perch"] != 1 || tally[uuid.Nil].Kept["perch"] != 2 {
		t.Errorf("%+v", tally)
	}
}

// For every interleaving of claims by several phones: whoever was last claimed to be on the ice counts as on the ice, and
// so does whoever is claimed ashore while another phone said otherwise in the ten minutes before.
func TestNobodyIsLost(t *testing.T) {
	type said struct {
		minute, phone int
		ashore        bool
	}
	loud, quiet := 0, 0
	for seed := range uint64(1000) {
		rng := num.NewStream(seed, "claims")
		person := uuid.UUID{7}
		phones := []*writer{{t: t, head: journal.Head{Journal: uuid.UUID{1}}}, {t: t, head: journal.Head{Journal: uuid.UUID{2}}}, {t: t, head: journal.Head{Journal: uuid.UUID{3}}}}
		var all []said
		minute := 0
		for range 1 + rng.IntN(8) {
			minute += 1 + rng.IntN(25)
			c := said{minute, rng.IntN(3), rng.IntN(2) == 0}
			state := map[bool]string{true: "ashore", false: "on_ice"}[c.ashore]
			phones[c.phone].add(minute, &journal.Claim{Person: person, State: state})
			all = append(all, c)
		}
		last := all[len(all)-1]
		opposed := false
		for _, c := range all[:len(all)-1] {
			opposed = opposed || c.phone != last.phone && c.ashore != last.ashore && last.minute-c.minute < 10
		}
		w := fold(t, phones...).OnIce(at(minute + 1))
		if len(w) != 1 || w[0].OnIce != (!last.ashore || opposed) || w[0].Contradictory != opposed {
			t.Fatalf("seed %d: %+v after %+v", seed, w, all)
		}
		if opposed {
			loud++
		} else if last.ashore {
			quiet++
		}
	}
	if loud < 50 || quiet < 50 {
		t.Errorf("%d contradicted and %d plain cases: too few to tell", loud, quiet)
	}
}

// Saying "ashore" twice does not clear somebody whom another phone saw on the ice.
func TestRepeatingDoesNotSettle(t *testing.T) {
	a, b := &writer{t: t, head: journal.Head{Journal: uuid.UUID{1}}}, &writer{t: t, head: journal.Head{Journal: uuid.UUID{2}}}
	lena := uuid.UUID{7}
	a.add(0, &journal.Claim{Person: lena, State: "on_ice"})
	b.add(5, &journal.Claim{Person: lena, State: "ashore"})
	b.add(6, &journal.Claim{Person: lena, State: "ashore"})
	if w := fold(t, a, b).OnIce(at(7)); len(w) != 1 || !w[0].OnIce || !w[0].Contradictory {
		t.Errorf("%+v", w)
	}
}

// Where one phone's clock was set back, what it said since counts, and nobody whom it had on the ice is forgotten because
// the claim lies ahead of now; another phone's claims stay where they are, and so do claims typed in later of an earlier time.
func TestClaimsOfAClockThatWentBack(t *testing.T) {
	lena, jonas := uuid.UUID{7}, uuid.UUID{8}
	claim := func(person uuid.UUID, state string) *journal.Claim {
		return &journal.Claim{Person: person, State: state}
	}
	state := func(v *View, minute int, person uuid.UUID) string {
		for _, w := range v.OnIce(at(minute)) {
			if w.Person == person {
				return w.State
			}
		}
		return "not listed"
	}
	a, b := &writer{t: t, head: journal.Head{Journal: uuid.UUID{1}}}, &writer{t: t, head: journal.Head{Journal: uuid.UUID{2}}}
	a.add(100, claim(lena, "ashore"))
	a.add(110, claim(jonas, "on_ice"))
	a.add(60, &journal.ClockJump{Before: at(120).UnixMilli(), After: at(60).UnixMilli()})
	a.add(61, claim(lena, "on_ice"))
	b.add(70, claim(jonas, "on_ice"))
	v := fold(t, a, b)
	if got := state(v, 65, lena); got != "on_ice" {
		t.Errorf("who went out since is %s", got)
	}
	if got := state(v, 65, jonas); got != "on_ice" {
		t.Errorf("who was on the ice before is %s", got)
	}
	b.add(72, claim(jonas, "ashore"))
	a.add(75, claim(lena, "ashore"))
	v = fold(t, a, b)
	if got := state(v, 74, lena); got != "on_ice" {
		t.Errorf("before she came ashore she is %s", got)
	}
	if got := state(v, 90, lena); got != "ashore" {
		t.Errorf("ashore by the new clock: %s", got)
	}
	if got := state(v, 90, jonas); got != "ashore" {
		t.Errorf("another phone's word is %s", got)
	}
	c := &writer{t: t, head: journal.Head{Journal: uuid.UUID{3}}}
	c.add(100, claim(lena, "ashore"))
	c.addAt(50, 120, claim(lena, "on_ice")) // typed in at 120 of 50
	if got := state(fold(t, c), 130, lena); got != "ashore" {
		t.Errorf("typed in later of an earlier time: %s", got)
	}
	// a command that answers as of an earlier time writes by that time, too: no clock went back
	c.add(40, claim(jonas, "on_ice"))
	if got := state(fold(t, c), 130, lena); got != "ashore" {
		t.Errorf("written as of an earlier time: %s", got)
	}
}

func TestContradictionIsLoud(t *testing.T) {
	a, b := &writer{t: t, head: journal.Head{Journal: uuid.UUID{1}}}, &writer{t: t, head: journal.Head{Journal: uuid.UUID{2}}}
	lena := uuid.UUID{7}
	a.add(0, &journal.Claim{Person: lena, State: "on_ice"})
	b.add(5, &journal.Claim{Person: lena, State: "ashore"})
	w := fold(t, a, b).OnIce(at(6))
	if len(w) != 1 || !w[0].OnIce || !w[0].Contradictory {
		t.Errorf("%+v", w)
	}
	b.add(60, &journal.Claim{Person: lena, State: "ashore"})
	if w := fold(t, a, b).OnIce(at(61)); w[0].OnIce {
		t.Errorf("a later claim clears her: %+v", w)
	}
}

func TestEarliestTurnBackIsKept(t *testing.T) {
	w := &writer{t: t, head: journal.Head{Journal: uuid.UUID{1}}}
	w.add(0, &journal.TurnBack{Until: at(100).UnixMilli(), Reason: "way_shorter", Computed: at(80).UnixMilli()})
	w.add(5, &journal.TurnBack{Until: at(90).UnixMilli(), Reason: "crossing_read", Computed: at(80).UnixMilli()})
	v := fold(t, w)
	if n := len(v.TurnBack); n != 2 || !v.TurnBack[1].Until.Equal(at(90)) {
		t.Errorf("%+v", v.TurnBack)
	}
}

// What a rod is after is its sit's own target until the day's trip is told another.
func TestTargetAt(t *testing.T) {
	w := &writer{t: t, head: journal.Head{Journal: uuid.UUID{1}}}
	w.add(0, &journal.Trip{Rods: 2, Travel: "foot", Target: "walleye"}) // told before the sit: the sit's own counts
	a := w.add(10, &journal.SitStart{Hole: uuid.UUID{1, 2}, Rod: 1, Target: "perch"})
	w.add(40, &journal.Trip{Rods: 2, Travel: "foot", Target: "walleye"})
	w.add(50, &journal.Trip{Rods: 3, Travel: "foot"}) // of rods only
	w.add(70, &journal.Trip{Rods: 3, Travel: "foot", Target: "perch"})
	w.add(90, &journal.SitEnd{Sit: a})
	v := fold(t, w)
	for minute, want := range map[int]string{10: "perch", 39: "perch", 40: "walleye", 60: "walleye", 70: "perch", 90: "perch"} {
		if got := v.TargetAt(v.Sits[0], at(minute)); got != want {
			t.Errorf("minute %d: %q, want %q", minute, got, want)
		}
	}
}
