package desk

import (
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/engine/advise"
	"icehand/internal/trade/journal"
)

// The made-up morning: everybody has a place and a wait, and fish at a hole name whom to call. What each must be is worked out of the record by
// other means than the desk's.
func TestGathering(t *testing.T) {
	d, _, now, people := planned(t)
	g, err := d.Gathering(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Members) != len(people) || len(g.Loud) != 0 || len(g.Open) != len(d.lake.HolesOn("2026-01-15")) {
		t.Errorf("%d members, loud %v, %d open", len(g.Members), g.Loud, len(g.Open))
	}
	for _, m := range g.Members {
		var last time.Time
		for _, f := range d.party.Fish {
			if f.Day == "2026-01-15" && f.Guest == m.ID {
				last = f.When
			}
		}
		if !last.IsZero() && m.Waited != now.Sub(last) || m.Fished == last.IsZero() {
			t.Errorf("%s waited %s, last fish %s", m.Name, m.Waited, last)
		}
		if m.Role == "guest" && (m.Hole == nil || m.Licence != LicenceNotSeen) {
			t.Errorf("%s: hole %v, licence %s", m.Name, m.Hole, m.Licence)
		}
	}
	c := g.Calling
	if c == nil || now.Sub(c.Last) > advise.SpellGap || c.Stay < 2*time.Minute {
		t.Fatalf("nobody is called: %+v", c)
	}
	if len(c.Who) != 5 {
		t.Errorf("%d guests are weighed", len(c.Who))
	}
	*now = now.Add(2 * time.Hour) // no fish for hours: nobody is called to where they were
	if g, err = d.Gathering(t.Context()); err != nil || g.Calling != nil {
		t.Errorf("called to fish that are gone: %+v %v", g.Calling, err)
	}
}

// A guest who goes in early or out of sight is on the ice until said ashore, is not called, and is loud when out of sight; contradicting reports of two
// phones are loud.
func TestWandering(t *testing.T) {
	d, _, now, people := planned(t)
	who := people[1]
	claim := func(state string) {
		t.Helper()
		*now = now.Add(time.Second)
		if err := d.Record(t.Context(), Act{}, &journal.Claim{Person: who, State: state}); err != nil {
			t.Fatal(err)
		}
	}
	for _, state := range []string{"leaving", "unseen"} {
		claim(state)
		g, err := d.Gathering(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range g.Members {
			if m.ID == who && (!m.Where.OnIce || m.Where.State != state) {
				t.Errorf("%s: %+v", state, m.Where)
			}
		}
		if loud := strings.Join(g.Loud, ""); (loud == "Jonas Albrecht") != (state == "unseen") {
			t.Errorf("%s: loud is %q", state, loud)
		}
		for _, x := range g.Calling.Who {
			if x.Person == who && x.Barred != advise.NotHere {
				t.Errorf("%s: called all the same: %+v", state, x)
			}
		}
	}
	if o, err := d.Overdue(t.Context()); err != nil || o.Out != 6 {
		t.Errorf("%d out, %v", o.Out, err)
	}
	if err := d.Record(t.Context(), Act{}, &journal.Claim{Person: who, State: "lost"}); fault.CodeOf(err) != fault.BadInput {
		t.Errorf("a state that is none: %v", err)
	}
}

// Licences: seen, not seen, expired on both sides of its last day; the number stays in an erasable text and in no entry; a name entered twice is said.
func TestRoster(t *testing.T) {
	d, st, _, people := planned(t)
	yes, number, notes := true, "TX 90 417", "bad knee; red coat"
	for until, want := range map[journal.Day]string{"": LicenceSeen, "2026-01-15": LicenceSeen, "2026-01-14": LicenceExpired} {
		if err := d.TellRoster(t.Context(), Act{}, people[5], Roster{Notes: &notes, Licence: &number, Seen: &yes, Until: &until}); err != nil {
			t.Fatal(err)
		}
		g, err := d.Gathering(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		m := g.Members[5]
		if m.Licence != want || m.Notes != notes || !m.Number {
			t.Errorf("until %q: %+v", until, m)
		}
	}
	err := d.Read(t.Context(), func(v View) error {
		for _, f := range v.Log.Facts() {
			if s := string(f.Entry.Body); strings.Contains(s, number) || strings.Contains(s, "knee") {
				t.Errorf("an entry holds %s", s)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := st.EraseText(t.Context(), *d.party.Guest(people[5]).Notes); err != nil {
		t.Fatal(err)
	}
	bad := journal.Day("next year")
	if err := d.TellRoster(t.Context(), Act{}, people[5], Roster{Until: &bad}); fault.CodeOf(err) != fault.BadInput {
		t.Errorf("no date: %v", err)
	}
	if err := d.TellRoster(t.Context(), Act{}, uuid.New(), Roster{Seen: &yes}); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("nobody: %v", err)
	}
	if err := d.AddGuest(t.Context(), Act{}, "mr  okafor", journal.Guest{Role: "guest", Age: "elder"}); err != nil {
		t.Fatal(err)
	}
	g, err := d.Gathering(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	twice := 0
	for _, m := range g.Members {
		if m.Twice {
			twice++
		}
	}
	if twice != 2 {
		t.Errorf("%d members share a name", twice)
	}
}

// What is left, as told last; out of bounds is refused.
func TestSupplies(t *testing.T) {
	d, _, _, _ := planned(t)
	for _, left := range []int64{80, 25} {
		if err := d.Record(t.Context(), Act{}, &journal.Supply{What: "battery", Left: left}); err != nil {
			t.Fatal(err)
		}
	}
	g, err := d.Gathering(t.Context())
	if err != nil || len(g.Supplies) != 1 || g.Supplies[0].Left != 25 {
		t.Errorf("%+v %v", g.Supplies, err)
	}
	for _, b := range []*journal.Supply{{What: "battery", Left: 101}, {What: "battery", Left: -1}, {What: "hope", Left: 10}} {
		if err := d.Record(t.Context(), Act{}, b); fault.CodeOf(err) != fault.BadInput {
			t.Errorf("%+v: %v", b, err)
		}
	}
}
