package rules

import (
	"testing"
	"time"

	"icehand/internal/base/quantity"
)

// Every rule that is no count is tried from both sides of its line, in both invented books and where no book holds.
func TestDutiesFromBothSides(t *testing.T) {
	own, far := law("2026-01-15", book(t, "rules.txt")), law("2026-01-15", book(t, "rules-pooled.txt"))
	none := Law{Day: "2026-01-15"}
	for _, x := range []struct {
		name string
		got  []Finding
		want string
	}{
		{"always attended, somebody by", own.Line(true, 3*time.Hour), ""},
		{"always attended, nobody by", own.Line(false, 0), "unattended"},
		{"every hour, nobody by, 60 min", far.Line(false, time.Hour), ""},
		{"every hour, nobody by, 61 min", far.Line(false, 61*time.Minute), "unattended"},
		{"no book, nobody by", none.Line(false, 5*time.Hour), ""},
		{"first trip", own.Outing(1), ""},
		{"second trip", own.Outing(2), "second_trip"},
		{"second trip, the book leaves it out", far.Outing(2), "second_trip"},
		{"no book, second trip", none.Outing(2), ""},
		{"walleye cleaned on the ice", own.Cleaned("walleye", true), "cleaned_on_ice"},
		{"walleye cleaned ashore", own.Cleaned("walleye", false), ""},
		{"perch cleaned on the ice", own.Cleaned("perch", true), ""},
		{"springs by machine", own.Area("kettle  springs", true), "zone"},
		{"springs on foot", own.Area("Kettle Springs", false), ""},
		{"elsewhere by machine", own.Area("Long Flat", true), ""},
		{"closed zone on foot", far.Area("the throat", false), "zone"},
		{"left without marks", far.Unmarked(3, 1), "unmarked"},
		{"fished without marks", far.Unmarked(3, 0), ""},
		{"no word on marks", own.Unmarked(9, 9), ""},
		{"hole of 30 cm", own.Wide(30 * quantity.Centimetre), ""},
		{"hole of 30.1 cm", own.Wide(301 * quantity.Millimetre), "hole_wide"},
		{"two lines", own.Lines(2), ""},
		{"three lines", own.Lines(3), "lines"},
		{"three lines, three lawful", far.Lines(3), ""},
		{"four lines, three lawful", far.Lines(4), "lines"},
	} {
		if got := codes(x.got); got != x.want {
			t.Errorf("%s: %q, want %q", x.name, got, x.want)
		}
	}
	if own.Licensed(true) || !own.Licensed(false) || !far.Licensed(true) || none.Licensed(false) {
		t.Error("who needs a licence")
	}
}

// What the books ask is told in plain lines at its moment; a book that says nothing of a thing asks nothing.
func TestDuties(t *testing.T) {
	find := func(l Law, text string) (Duty, bool) {
		for _, d := range l.Duties() {
			if d.Text == text {
				return d, true
			}
		}
		return Duty{}, false
	}
	own, far := law("2026-01-15", book(t, "rules.txt")), law("2026-01-15", book(t, "rules-pooled.txt"))
	for _, x := range []struct {
		of         Law
		text, tick string
		when       Moment
	}{
		{own, "Each carries the licence.", "", Before}, {own, "Every shelter bears its name, letters at least 5 cm high.", "shelter_name", Before}, {own, "At most 2 lines a person.", "", OnIce},
		{own, "Somebody stands by every line.", "", OnIce}, {own, "No hole wider than 30 cm across.", "", OnIce}, {own, "Kettle Springs: no vehicles.", "", OnIce},
		{own, "One trip a day: whoever went ashore does not fish again.", "", OnIce}, {own, "Walleye: whole on the ice.", "", Landing}, {own, "Litter is carried out today.", "litter", Evening},
		{far, "No live bait.", "bait", Before}, {far, "Every line is looked at every hour.", "", OnIce}, {far, "A hole that is left is marked.", "", OnIce}, {far, "The Throat: closed.", "", OnIce},
		{far, "At most 2 hooks a line: every line is looked at.", "hooks", Before}, {far, "Each walleye kept bears its tag.", "tag", Landing}, {far, "At the limit nobody fishes for it any more.", "", OnIce},
	} {
		if d, ok := find(x.of, x.text); !ok || d.Tick != x.tick || d.When != x.when {
			t.Errorf("%q: %v %+v in %v", x.text, ok, d, x.of.Duties())
		}
	}
	for _, text := range []string{"No live bait.", "A hole that is left is marked."} {
		if _, ok := find(own, text); ok {
			t.Errorf("%q is asked by a book that does not say it", text)
		}
	}
	if _, ok := find(far, "Litter is carried out today."); ok {
		t.Error("litter is asked by a book that does not say it")
	}
	march := law("2026-03-15", book(t, "rules.txt"))
	if _, ok := find(march, "Shelters come off the ice every day from 15 Mar."); !ok {
		t.Errorf("shelters on 15 March: %v", march.Duties())
	}
	if _, ok := find(law("2026-03-14", book(t, "rules.txt")), "Shelters come off the ice every day from 15 Mar."); ok {
		t.Error("shelters on 14 March")
	}
}

// A rule that is watched by a tick can be ticked, one by eye has nothing to tick, and every kind says how it is watched.
func TestEveryRuleSaysHowItIsWatched(t *testing.T) {
	ticks := map[Kind]bool{}
	for _, l := range []Law{law("2026-04-02", book(t, "rules.txt")), law("2026-03-31", book(t, "rules-pooled.txt")), law("2026-04-01", book(t, "rules-pooled.txt"))} {
		for _, d := range l.Duties() {
			if d.Tick != "" {
				ticks[d.Rule.Kind] = true
			}
		}
	}
	for _, f := range Forms() {
		k := Kind(f.Word)
		if byTick := k.Watched() == ByTick; byTick != ticks[k] {
			t.Errorf("%s: watched by %s, can be ticked: %v", k, k.Watched(), ticks[k])
		}
	}
	for _, k := range []Kind{Licence, ReportHolds, ReportNil} {
		if k.Watched() != ByEye {
			t.Errorf("%s: watched by %s", k, k.Watched())
		}
	}
}
