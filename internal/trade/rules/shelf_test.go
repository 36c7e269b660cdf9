package rules

import (
	"os"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/trade/journal"
)

// writer writes rule books and signatures into one journal.
type writer struct {
	t    *testing.T
	head journal.Head
	log  journal.Log
}

func (w *writer) add(body journal.Body) uuid.UUID {
	w.t.Helper()
	if err := body.Check(); err != nil {
		w.t.Fatal(err)
	}
	at := time.Date(2026, 1, 1, 12, int(w.head.N), 0, 0, time.UTC)
	a := journal.Author{Outfit: uuid.UUID{9}, Lake: uuid.UUID{8}, Account: uuid.UUID{1}, Zone: time.UTC}
	e, err := journal.Seal(w.head, a.Draft(journal.NewID(), at, at, body))
	if err != nil {
		w.t.Fatal(err)
	}
	w.head = journal.HeadOf(&e)
	if err := w.log.Add(&e); err != nil {
		w.t.Fatal(err)
	}
	return e.ID
}

var somebody = journal.Text{Blob: journal.Hash{1}}

func (w *writer) enter(name string) uuid.UUID {
	text, err := os.ReadFile("../../../examples/tamaringen/" + name)
	if err != nil {
		w.t.Fatal(err)
	}
	return w.add(&journal.RuleBook{Text: string(text), Entered: somebody})
}

func (w *writer) law(day journal.Day) Law {
	var s Shelf
	s.Sync(&w.log)
	return s.On(day)
}

// Which version holds on which day, and how far it may be trusted: from both ends of its dates, signed and not, withdrawn. The invented rules changed
// on 1 January: walleye from 5 to 4 a day (trade note, section 9).
func TestVersions(t *testing.T) {
	w := &writer{t: t, head: journal.Head{Journal: uuid.UUID{1}}}
	walleye := func(day journal.Day) (Standing, int) {
		l := w.law(day)
		if caps := l.Caps(Daily, "walleye"); len(caps) > 0 {
			return l.Standing, caps[0].Count
		}
		return l.Standing, -1
	}
	want := func(day journal.Day, standing Standing, count int) {
		t.Helper()
		if s, n := walleye(day); s != standing || n != count {
			t.Errorf("%s: %s, %d walleye; want %s, %d", day, s, n, standing, count)
		}
	}
	want("2026-01-15", Nothing, -1)
	old := w.enter("rules-2025.txt")
	want("2025-12-31", Unsigned, 5)
	w.add(&journal.RuleCheck{Book: old, By: somebody})
	want("2024-12-31", NotYet, 5)
	want("2025-01-01", Verified, 5)
	want("2025-12-31", Verified, 5)
	want("2026-01-01", Expired, 5)
	fresh := w.enter("rules.txt")
	want("2025-12-31", Verified, 5)
	want("2026-01-01", Unsigned, 4) // the strictest of the one that ended and the one that nobody signed
	w.add(&journal.RuleCheck{Book: fresh, By: somebody})
	want("2026-01-01", Verified, 4)
	want("2026-12-31", Verified, 4)
	want("2027-01-01", Expired, 4)
	text := strings.Replace(head2026(t), "daily walleye: 4", "daily walleye: 3", 1)
	revised := w.add(&journal.RuleBook{Text: text, Entered: somebody})
	want("2026-01-15", Unsigned, 3) // a newer book waits: the stricter counts until it is signed or withdrawn
	w.add(&journal.Retract{Target: revised, Why: "read the wrong page"})
	want("2026-01-15", Verified, 4)
	bad := w.add(&journal.RuleBook{Text: head2026(t) + "daily walleye: 9\n", Entered: somebody})
	want("2026-01-15", Verified, 4) // what contradicts itself is never in force, however it got into the journal
	var s Shelf
	s.Sync(&w.log)
	if v := s.Version(bad); v == nil || len(v.Bad) == 0 {
		t.Error("a bad book stays on record with what is wrong with it")
	}
}

func head2026(t *testing.T) string {
	text, err := os.ReadFile("../../../examples/tamaringen/rules.txt")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// A signature that arrives before its book counts once the book is there.
func TestSignatureFirst(t *testing.T) {
	w := &writer{t: t, head: journal.Head{Journal: uuid.UUID{1}}}
	id := w.enter("rules.txt")
	w.add(&journal.RuleCheck{Book: id, By: somebody})
	var s Shelf
	facts := w.log.Facts()
	s.byID, s.early = map[uuid.UUID]*Version{}, map[uuid.UUID][]Check{}
	s.fold(facts[1])
	s.fold(facts[0])
	if s.On("2026-01-15").Standing != Verified {
		t.Error("the signature is lost")
	}
}
