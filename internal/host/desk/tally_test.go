package desk

import (
	"os"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/tally"
)

// ruled gives a bench with the invented rule book in force and two guests out.
func ruled(t *testing.T) (b *bench, jonas, tim uuid.UUID) {
	t.Helper()
	b = newBench(t)
	text, err := os.ReadFile("../../../examples/tamaringen/rules.txt")
	b.must(err)
	_, err = b.EnterRules(b.ctx, Act{}, string(text), "Ruth Vossler")
	b.must(err)
	b.must(b.SignRules(b.ctx, Act{}, uuid.Nil, "Ingrid Vossler"))
	jonas, tim = journal.NewID(), journal.NewID()
	b.must(b.AddGuest(b.ctx, Act{ID: jonas}, "Jonas", journal.Guest{Role: "guest", Age: "adult"}))
	b.must(b.AddGuest(b.ctx, Act{ID: tim}, "Tim", journal.Guest{Role: "guest", Age: "child"}))
	return b, jonas, tim
}

func (b *bench) row(who uuid.UUID, species string) (r tally.Row) {
	b.t.Helper()
	b.must(b.Read(b.ctx, func(v View) error {
		r, _ = v.Sheet(v.Today, v.Now).Of(who, species)
		return nil
	}))
	return r
}

// The worked day's afternoon (trade note, section 9): Jonas is warned at 18 of 20, and the fish of 14:52 that was Tim's goes to him with its reason.
func TestWorkedAfternoon(t *testing.T) {
	b, jonas, tim := ruled(t)
	b.must(b.Fish(b.ctx, FishAct{Guest: jonas, Kept: true, Count: 17}))
	if r := b.row(jonas, "perch"); r.State != tally.Room {
		t.Errorf("17: %+v", r)
	}
	b.must(b.Fish(b.ctx, FishAct{Guest: jonas, Kept: true}))
	if r := b.row(jonas, "perch"); r.State != tally.Near || r.Left != 2 {
		t.Errorf("18: %+v", r)
	}
	b.must(b.Fish(b.ctx, FishAct{Guest: jonas, Kept: true}))
	wrong := journal.NewID()
	b.must(b.Fish(b.ctx, FishAct{Act: Act{ID: wrong}, Guest: jonas, Kept: true}))
	if r := b.row(jonas, "perch"); r.State != tally.Full {
		t.Errorf("20: %+v", r)
	}
	if err := b.Reassign(b.ctx, Act{}, wrong, tim, "  "); fault.CodeOf(err) != fault.BadInput {
		t.Errorf("without a reason: %v", err)
	}
	b.must(b.Reassign(b.ctx, Act{}, wrong, tim, "Tim's fish"))
	if j, k := b.row(jonas, "perch"), b.row(tim, "perch"); j.Kept != 19 || k.Kept != 1 {
		t.Errorf("%+v, %+v", j, k)
	}
	b.must(b.Fish(b.ctx, FishAct{Guest: jonas, Kept: true, Count: 2}))
	b.must(b.Read(b.ctx, func(v View) error {
		s := v.Sheet(v.Today, v.Now)
		all := s.Fish()
		if f := all[len(all)-1]; !strings.Contains(f.Flag, "daily perch: 20") || f.Rules != v.Shelf.Versions[0].ID {
			t.Errorf("the 21st is not flagged with its rule: %+v", f)
		}
		if len(s.Notes) != 1 || s.Notes[0].Code != "over_daily" || len(v.Ledger().Find(wrong).Changes) != 1 {
			t.Errorf("notes %+v", s.Notes)
		}
		return nil
	}))
}

// What makes no sense is refused with what to do, and nothing is written.
func TestHoldings(t *testing.T) {
	b, jonas, tim := ruled(t)
	b.must(b.Fish(b.ctx, FishAct{Guest: jonas, Kept: true, Count: 3}))
	hold := func(what string, n int64, to uuid.UUID) error {
		return b.Hold(b.ctx, HoldAct{Possession: journal.Possession{Person: jonas, What: what, Species: " Perch", Count: n, Other: to}, Words: "signed Jonas, 15 Jan"})
	}
	for name, err := range map[string]error{"more than held": hold("gift_out", 4, tim), "to himself": hold("gift_out", 1, jonas), "a negative count": hold("eaten", -1, uuid.Nil), "none": hold("eaten", 0, uuid.Nil),
		"nobody": hold("gift_out", 1, uuid.UUID{1, 2, 3}), "no kind": hold("lost", 1, uuid.Nil)} {
		if c := fault.CodeOf(err); c != fault.BadInput && c != fault.NotFound {
			t.Errorf("%s: %v", name, err)
		}
	}
	if r := b.row(jonas, "perch"); r.Held != 3 || r.Asked {
		t.Errorf("something was written: %+v", r)
	}
	b.must(hold("gift_out", 2, tim))
	b.must(hold("carried", 0, uuid.Nil))
	if j, k := b.row(jonas, "perch"), b.row(tim, "perch"); !j.Asked || k.Held != 2 || j.Kept != 3 {
		t.Errorf("%+v, %+v", j, k)
	}
	if err := b.Unkeep(b.ctx, Act{}, journal.NewID(), true, "why"); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("no such fish: %v", err)
	}
}

// Shares: two phones, and a third that is not heard. A second portion is refused while a phone that holds a part of the first is silent.
func TestHandOut(t *testing.T) {
	b, jonas, _ := ruled(t)
	b.must(b.Fish(b.ctx, FishAct{Guest: jonas, Kept: true, Count: 9}))
	if err := b.HandOut(b.ctx, Act{}, nil); fault.CodeOf(err) != fault.BadInput {
		t.Errorf("with nobody: %v", err)
	}
	other := uuid.UUID{7}
	b.now = b.now.Add(time.Minute)
	b.must(b.HandOut(b.ctx, Act{}, []uuid.UUID{other}))
	if r := b.row(jonas, "perch"); r.Left != 6 || r.Why != "share" { // 11 left: 6 here, 5 there
		t.Errorf("%+v", r)
	}
	b.now = b.now.Add(time.Minute)
	b.must(b.Fish(b.ctx, FishAct{Guest: jonas, Kept: true, Count: 6}))
	if r := b.row(jonas, "perch"); r.Left != 0 || r.State != tally.Full {
		t.Errorf("the share is used up: %+v", r)
	}
	if err := b.HandOut(b.ctx, Act{}, []uuid.UUID{other}); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("while it is silent: %v", err)
	}
	b.must(b.Read(b.ctx, func(v View) error {
		if s := v.Sheet(v.Today, v.Now); !s.AtLeast() || len(s.Phones) != 1 || !s.Phones[0].Heard.IsZero() {
			t.Errorf("phones %+v", s.Phones)
		}
		return nil
	}))
}

// Without a rule book in force nothing is handed out, and a fish is taken without a word on limits.
func TestWithoutRules(t *testing.T) {
	b := newBench(t)
	if err := b.HandOut(b.ctx, Act{}, []uuid.UUID{{7}}); fault.CodeOf(err) != fault.Missing {
		t.Errorf("%v", err)
	}
	if err := b.SignRules(b.ctx, Act{}, uuid.Nil, "Ada"); fault.CodeOf(err) != fault.Missing {
		t.Errorf("%v", err)
	}
	b.must(b.Fish(b.ctx, FishAct{Kept: true, Count: 50}))
	b.must(b.Read(b.ctx, func(v View) error {
		if f := v.Ledger().Fish[0]; f.Flag != "" {
			t.Errorf("%+v", f)
		}
		return nil
	}))
}

// The rule book's hours end the day and bound the second target; the earlier of a told hour and the book's counts. Walleye's season closes it.
func TestLawInAnswers(t *testing.T) {
	b, _, _ := ruled(t)
	day := journal.Day("2026-01-15")
	clock := func(at time.Time) string { return at.In(b.lake.Zone).Format("15:04") }
	if l := b.duskLaw(day); !l.Signed || l.Closed || !b.ends(day).LegalClose.IsZero() {
		t.Errorf("any hour: %+v", l)
	}
	text, err := os.ReadFile("../../../examples/tamaringen/rules-pooled.txt")
	b.must(err)
	_, err = b.EnterRules(b.ctx, Act{}, string(text), "Ruth Vossler")
	b.must(err)
	if l := b.duskLaw(day); l.Signed || l.Closed {
		t.Errorf("unsigned: %+v", l)
	}
	b.must(b.SignRules(b.ctx, Act{}, uuid.Nil, "Ingrid Vossler"))
	// Sunrise 07:45 and sunset 16:33 on that day at 47.9 N (trade note, section 1.5); half an hour more at both ends.
	if l := b.duskLaw(day); !l.Signed || clock(l.From)[:4] != "07:1" || clock(l.To)[:4] != "17:0" {
		t.Errorf("hours %s to %s", clock(l.From), clock(l.To))
	}
	if got := clock(b.ends(day).LegalClose); got[:4] != "17:0" {
		t.Errorf("the day ends at %s", got)
	}
	b.must(b.SetHour(b.ctx, Act{}, LegalClose, "16:00"))
	if got := clock(b.ends(day).LegalClose); got != "16:00" {
		t.Errorf("the told hour is earlier: %s", got)
	}
	if l := b.duskLaw("2026-03-15"); !l.Closed || l.Why == "" {
		t.Errorf("walleye closes on 28 Feb: %+v", l)
	}
}
