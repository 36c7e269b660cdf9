package tally

import (
	"encoding/json"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/rules"
)

var (
	zone = time.FixedZone("Etc/GMT+3", -3*3600)
	t0   = time.Date(2026, 1, 15, 8, 0, 0, 0, zone) // the worked day of the invented lake
	lake = uuid.UUID{8}
	name = journal.Text{Blob: journal.Hash{1}}
)

const day = journal.Day("2026-01-15")

// phone writes entries of one journal.
type phone struct {
	t    *testing.T
	head journal.Head
	out  []*journal.Entry
}

func newPhone(t *testing.T, id byte) *phone {
	return &phone{t: t, head: journal.Head{Journal: uuid.UUID{id}}}
}

func (w *phone) on(at time.Time, body journal.Body) uuid.UUID {
	w.t.Helper()
	if err := body.Check(); err != nil {
		w.t.Fatal(err)
	}
	a := journal.Author{Outfit: uuid.UUID{9}, Lake: lake, Account: w.head.Journal, Zone: zone}
	id := journal.ContentID(w.head.Journal, body.Kind(), string(rune(w.head.N+1)))
	e, err := journal.Seal(w.head, a.Draft(id, at, at, body))
	if err != nil {
		w.t.Fatal(err)
	}
	w.head = journal.HeadOf(&e)
	w.out = append(w.out, &e)
	return id
}

func (w *phone) add(minute int, body journal.Body) uuid.UUID {
	return w.on(t0.Add(time.Duration(minute)*time.Minute), body)
}

func (w *phone) guest(role string) uuid.UUID {
	return w.add(-60, &journal.Guest{Name: name, Role: role, Age: "adult"})
}

// keep records n kept fish, one entry each.
func (w *phone) keep(minute int, who uuid.UUID, species string, n int) (last uuid.UUID) {
	for range n {
		last = w.add(minute, &journal.Fish{Species: species, Kept: true, Count: 1, Guest: who})
	}
	return last
}

func (w *phone) amend(minute int, target uuid.UUID, why string, set map[string]any) {
	raw := map[string]json.RawMessage{}
	for k, v := range set {
		b, err := json.Marshal(v)
		if err != nil {
			w.t.Fatal(err)
		}
		raw[k] = b
	}
	w.add(minute, &journal.Amend{Target: target, Set: raw, Why: why})
}

func view(t *testing.T, ws ...*phone) *View {
	t.Helper()
	var log journal.Log
	for _, w := range ws {
		if err := log.Add(w.out...); err != nil {
			t.Fatal(err)
		}
	}
	v := &View{}
	v.Sync(&log)
	return v
}

// sheet weighs the worked day at its evening, as the first phone sees it, by an example book.
func sheet(t *testing.T, book string, ws ...*phone) *Sheet {
	t.Helper()
	return view(t, ws...).Day(day, t0.Add(9*time.Hour), lawOf(t, book, day), ws[0].head.Journal)
}

func lawOf(t *testing.T, name string, day journal.Day) rules.Law {
	t.Helper()
	text := name
	if b, err := os.ReadFile("../../../examples/tamaringen/" + name); err == nil {
		text = string(b)
	}
	b, problems := rules.Read(text)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	return rules.Law{Day: day, Standing: rules.Verified, Versions: []*rules.Version{{Book: b}}}
}

const head = "book: b\nsource: s\nretrieved: 2025-12-01\nfrom: 2026-01-01\nto: 2026-12-31\n"

func row(t *testing.T, s *Sheet, who uuid.UUID, species string) Row {
	t.Helper()
	r, ok := s.Of(who, species)
	if !ok {
		t.Fatal("nobody of that id")
	}
	return r
}

func noted(s *Sheet) (out []string) {
	for _, n := range s.Notes {
		out = append(out, n.Code)
	}
	return out
}

// The daily limit of 20 perch from both sides: warned at limit minus two, stop at the limit, recorded and flagged beyond it.
func TestDailyLimit(t *testing.T) {
	for n, want := range map[int]struct {
		left  int
		state State
		notes []string
	}{17: {3, Room, nil}, 18: {2, Near, nil}, 19: {1, Near, nil}, 20: {0, Full, nil}, 21: {-1, Beyond, []string{"over_daily"}}} {
		w := newPhone(t, 1)
		jonas, petra := w.guest("guest"), w.guest("guest")
		w.keep(0, jonas, "perch", n)
		s := sheet(t, "rules.txt", w)
		if r := row(t, s, jonas, "perch"); r.Left != want.left || r.State != want.state || r.Kept != n || r.Binding.String() != "daily perch: 20" {
			t.Errorf("%d kept: %+v", n, r)
		}
		if !slices.Equal(noted(s), want.notes) {
			t.Errorf("%d kept: notes %v", n, noted(s))
		}
		if r := row(t, s, petra, "perch"); r.Left != 20 || r.State != Room {
			t.Errorf("another person's limit is her own: %+v", r)
		}
	}
}

// Fish without a name count against everybody until they are named.
func TestUnnamed(t *testing.T) {
	w := newPhone(t, 1)
	jonas, petra := w.guest("guest"), w.guest("guest")
	w.keep(0, jonas, "perch", 17)
	x := w.keep(5, uuid.Nil, "perch", 1)
	s := sheet(t, "rules.txt", w)
	if r := row(t, s, jonas, "perch"); r.Left != 2 || r.State != Near || r.Kept != 17 || s.Unnamed["perch"] != 1 {
		t.Errorf("%+v, unnamed %v", r, s.Unnamed)
	}
	if r := row(t, s, petra, "perch"); r.Left != 19 {
		t.Errorf("%+v", r)
	}
	w.amend(6, x, "named", map[string]any{"guest": petra})
	s = sheet(t, "rules.txt", w)
	if j, p := row(t, s, jonas, "perch"), row(t, s, petra, "perch"); j.Left != 3 || p.Left != 19 || p.Kept != 1 || s.Unnamed["perch"] != 0 {
		t.Errorf("named: %+v, %+v", j, p)
	}
}

// The possession limit of 40 is a second check, and the lower remainder counts. What was carried over is asked at the start.
func TestPossession(t *testing.T) {
	for _, c := range []struct {
		carried, kept, left int
		state               State
		note                string
	}{{20, 10, 10, Room, ""}, {25, 10, 5, Room, ""}, {25, 13, 2, Near, ""}, {25, 15, 0, Full, ""}, {25, 16, -1, Beyond, "over_possession"}, {0, 20, 0, Full, ""}} {
		w := newPhone(t, 1)
		jonas := w.guest("guest")
		if r := row(t, sheet(t, "rules.txt", w), jonas, "perch"); r.Asked {
			t.Error("nobody asked yet")
		}
		w.keep(-30, jonas, "perch", 1) // before it was told: a fish of the day all the same
		w.add(-20, &journal.Possession{Person: jonas, What: "carried", Species: "perch", Count: int64(c.carried)})
		w.keep(0, jonas, "perch", c.kept-1)
		s := sheet(t, "rules.txt", w)
		r := row(t, s, jonas, "perch")
		if r.Left != c.left || r.State != c.state || r.Held != c.carried+c.kept || !r.Asked || (c.note != "") != slices.Contains(noted(s), c.note) {
			t.Errorf("%+v: %+v, notes %v", c, r, noted(s))
		}
	}
}

// Gifts move what is held and not what was kept; eaten fish are held on or not, as the book says; cleaning changes nothing.
func TestGiftsEatenCleaned(t *testing.T) {
	build := func() (w *phone, a, b uuid.UUID) {
		w = newPhone(t, 1)
		a, b = w.guest("guest"), w.guest("guest")
		w.keep(0, a, "walleye", 4)
		w.add(1, &journal.Possession{Person: a, What: "gift_out", Species: "walleye", Count: 2, Other: b})
		w.add(2, &journal.Possession{Person: a, What: "eaten", Species: "walleye", Count: 1})
		w.add(3, &journal.Possession{Person: a, What: "processed", Species: "walleye", Count: 2, Packs: 2})
		return w, a, b
	}
	w, a, b := build()
	s := sheet(t, "rules.txt", w)
	if x, y := row(t, s, a, "walleye"), row(t, s, b, "walleye"); x.Kept != 4 || x.Left != 0 || x.Held != 2 || y.Kept != 0 || y.Held != 2 || y.Left != 4 {
		t.Errorf("still held: %+v, %+v", x, y)
	}
	if !slices.Contains(noted(s), "gift_note") || slices.Contains(noted(s), "packs") {
		t.Errorf("a gift without its note: %v", noted(s))
	}
	s = sheet(t, "rules-pooled.txt", w)
	if x := row(t, s, a, "walleye"); x.Held != 1 {
		t.Errorf("no longer held: %+v", x)
	}
	if n := noted(s); !slices.Contains(n, "gift_note") || !slices.Contains(n, "packs") {
		t.Errorf("gifts are barred, and two cleaned with one held: %v", n)
	}
	w, a, _ = build()
	w.add(4, &journal.Possession{Person: a, What: "gift_in", Species: "perch", Count: 3, Note: &name})
	if s := sheet(t, "rules.txt", w); row(t, s, a, "perch").Held != 3 || row(t, s, a, "perch").Left != 20 {
		t.Errorf("a gift from outside: %+v", row(t, s, a, "perch"))
	}
}

// A kept fish put back later counts on where nobody may replace a fish; where it is barred at the limit only then; a slip never.
func TestReplacing(t *testing.T) {
	for _, c := range []struct {
		book    string
		species string
		before  int
		fate    string
		kept    int
		note    bool
	}{
		{"rules.txt", "perch", 5, "unkept", 5, true}, {"rules.txt", "perch", 5, "choice", 4, false},
		{"rules-pooled.txt", "perch", 5, "unkept", 4, false}, {"rules-pooled.txt", "perch", 15, "unkept", 15, true}, {"rules-pooled.txt", "perch", 14, "unkept", 13, false},
		{head + "daily perch: 20\nreplacing: lawful\n", "perch", 20, "unkept", 19, false}, {head + "daily perch: 20\n", "perch", 5, "unkept", 5, true},
	} {
		w := newPhone(t, 1)
		a := w.guest("guest")
		x := w.keep(0, a, c.species, c.before)
		w.amend(10, x, "a bigger one came", map[string]any{"kept": false, "fate": c.fate})
		s := sheet(t, c.book, w)
		if r := row(t, s, a, c.species); r.Kept != c.kept || slices.Contains(noted(s), "replaced") != c.note {
			t.Errorf("%+v: %+v, notes %v", c, r, noted(s))
		}
		if f := s.Fish()[len(s.Fish())-1]; len(f.Changes) != 1 && s.Fish()[0].ID == x {
			t.Errorf("no trace: %+v", f)
		}
	}
}

// Pooling: what the others have left may be kept, a guide is never part of the pool, and the party's limit is checked together.
func TestPooling(t *testing.T) {
	w := newPhone(t, 1)
	a, b, guide := w.guest("guest"), w.guest("guest"), w.guest("guide")
	w.keep(0, a, "perch", 15)
	w.keep(1, b, "perch", 3)
	s := sheet(t, "rules-pooled.txt", w)
	if r := row(t, s, a, "perch"); r.Why != "possession" || r.Left != 0 {
		t.Errorf("each holds only their own 15: %+v", r)
	}
	pooled := head + "daily perch: 15\npooling: in sight and voice\nguide fish: own limit\ncarried: party's fish\nafter the limit: may fish and put back\n"
	s = sheet(t, pooled, w)
	if x, y, g := row(t, s, a, "perch"), row(t, s, b, "perch"), row(t, s, guide, "perch"); x.Left != 12 || x.Why != "pooled" || y.Left != 12 || g.Left != 15 {
		t.Errorf("%+v\n%+v\n%+v", x, y, g)
	}
	if s := sheet(t, head+"daily perch: 15\npooling: no\n", w); row(t, s, a, "perch").Left != 0 {
		t.Errorf("no pooling: %+v", row(t, s, a, "perch"))
	}
	w.keep(2, a, "perch", 12)
	if s := sheet(t, pooled, w); row(t, s, b, "perch").Left != 0 || len(s.Notes) != 0 {
		t.Errorf("at the party's limit: %+v, %v", row(t, s, b, "perch"), s.Notes)
	}
	w.keep(3, b, "perch", 1)
	if s := sheet(t, pooled, w); row(t, s, b, "perch").Left != -1 || !slices.Equal(noted(s), []string{"over_daily"}) {
		t.Errorf("beyond it: %v", s.Notes)
	}
}

// Fishing on after the limit is held against whoever had the fish on the hook, where the book forbids it or says nothing; the fish
// that fills the limit is lawful.
func TestFishingOnAfterTheLimit(t *testing.T) {
	stop := head + "daily perch: 3\nafter the limit: stop fishing for it\n"
	silent, lawful := head+"daily perch: 3\n", head+"daily perch: 3\nafter the limit: may fish and put back\n"
	w := newPhone(t, 1)
	a, b := w.guest("guest"), w.guest("guest")
	w.keep(0, a, "perch", 2)
	w.add(1, &journal.Fish{Species: "perch", Fate: "choice", Count: 4, Guest: a})
	w.keep(2, a, "perch", 1)
	for _, book := range []string{stop, silent, lawful} {
		if s := sheet(t, book, w); len(s.Notes) > 0 {
			t.Errorf("just full: %v", s.Notes)
		}
	}
	w.add(3, &journal.Fish{Species: "walleye", Fate: "choice", Count: 1, Guest: a})
	w.add(4, &journal.Fish{Species: "perch", Fate: "lost", Count: 1, Guest: a})
	w.add(5, &journal.Fish{Species: "perch", Fate: "choice", Count: 1, Guest: b})
	if s := sheet(t, stop, w); len(s.Notes) > 0 {
		t.Errorf("another species, a lost fish, another's fish: %v", s.Notes)
	}
	w.add(6, &journal.Fish{Species: "perch", Fate: "choice", Count: 2, Guest: a})
	w.add(7, &journal.Fish{Species: "perch", Kept: true, Count: 1, Guest: b, Hooked: a}) // hooked by one who is full, kept by another
	for book, want := range map[string]string{stop: "3 caught after the limit: after the limit: stop fishing for it", silent: "3 caught after the limit: the rule book leaves it out, read the strictest way", lawful: ""} {
		s := sheet(t, book, w)
		if want == "" {
			if len(s.Notes) > 0 {
				t.Errorf("lawful: %v", s.Notes)
			}
			continue
		}
		if len(s.Notes) != 1 || s.Notes[0].Code != "fished_on" || s.Notes[0].Person != a || s.Notes[0].Count != 3 || s.Notes[0].Text != want {
			t.Errorf("fished on: %v, want %q", s.Notes, want)
		}
	}
	if s := sheet(t, stop+"daily walleye: 0\n", w); len(s.Notes) != 1 || s.Notes[0].Species != "perch" {
		t.Errorf("a limit of none is not reached by the walleye that went back: %v", s.Notes)
	}
	pooled := stop + "pooling: party\ncarried: party's fish\n"
	if s := sheet(t, pooled, w); len(s.Notes) > 0 {
		t.Errorf("the party has room: %v", s.Notes)
	}
	w.keep(8, b, "perch", 2)
	w.add(9, &journal.Fish{Species: "perch", Fate: "choice", Count: 1, Guest: b})
	if s := sheet(t, pooled, w); len(s.Notes) != 1 || s.Notes[0].Code != "fished_on" || s.Notes[0].Person != b || s.Notes[0].Count != 1 {
		t.Errorf("the party is full: %v", s.Notes)
	}
}

// Packs are held against what the book asks of them; one that says nothing of packs asks nothing.
func TestPacks(t *testing.T) {
	for _, x := range []struct {
		rule        string
		fish, packs int64
		want        string
	}{
		{"packs: one fish a pack\n", 3, 3, ""},
		{"packs: one fish a pack\n", 3, 2, "3 fish in 2 packs: packs: one fish a pack"},
		{"packs: one fish a pack\n", 3, 0, "into how many packs was not told: packs: one fish a pack"},
		{"packs: countable and named\n", 3, 1, ""},
		{"packs: countable and named\n", 3, 0, "into how many packs was not told: packs: countable and named"},
		{"", 3, 0, ""},
	} {
		w := newPhone(t, 1)
		a := w.guest("guest")
		w.keep(0, a, "perch", 3)
		w.add(1, &journal.Possession{Person: a, What: "processed", Species: "perch", Count: x.fish, Packs: x.packs})
		s := sheet(t, head+"daily perch: 15\n"+x.rule, w)
		got := ""
		for _, n := range s.Notes {
			got += n.Text
			if n.Code != "packed" || n.Person != a || n.Species != "perch" {
				t.Errorf("%+v", n)
			}
		}
		if got != x.want {
			t.Errorf("%q, %d fish in %d packs: %q, want %q", x.rule, x.fish, x.packs, got, x.want)
		}
	}
}

// A party that pools may keep for one another, but each carries home no more than one limit, unless the fish are the party's.
func TestCarryingHome(t *testing.T) {
	pooled := head + "daily perch: 15\npooling: party\nafter the limit: may fish and put back\n"
	w := newPhone(t, 1)
	a, _ := w.guest("guest"), w.guest("guest")
	w.keep(0, a, "perch", 15)
	for _, carried := range []string{"", "carried: own fish only\n", "carried: party's fish\n"} {
		if s := sheet(t, pooled+carried, w); len(s.Notes) > 0 {
			t.Errorf("%q, at one limit: %v", carried, s.Notes)
		}
	}
	w.keep(1, a, "perch", 1)
	for carried, want := range map[string]string{"": "16 kept, and each carries home at most 15: the rule book leaves it out, read the strictest way",
		"carried: own fish only\n": "16 kept, and each carries home at most 15: carried: own fish only", "carried: party's fish\n": ""} {
		s := sheet(t, pooled+carried, w)
		if want == "" != (len(s.Notes) == 0) || want != "" && (len(s.Notes) != 1 || s.Notes[0].Code != "carrying" || s.Notes[0].Text != want || s.Notes[0].Count != 1) {
			t.Errorf("%q, above it: %v", carried, s.Notes)
		}
	}
}

// A guide's own fish: kept apart, and barred where the book says so or says nothing.
func TestGuideFish(t *testing.T) {
	w := newPhone(t, 1)
	guide := w.guest("guide")
	if r := row(t, sheet(t, "rules.txt", w), guide, "perch"); r.Left != 20 {
		t.Errorf("own limit: %+v", r)
	}
	for _, book := range []string{"rules-pooled.txt", head + "daily perch: 20\n"} {
		if r := row(t, sheet(t, book, w), guide, "perch"); r.Left != 0 || r.State != Full {
			t.Errorf("barred: %+v", r)
		}
	}
	w.keep(0, guide, "perch", 1)
	if n := noted(sheet(t, "rules-pooled.txt", w)); !slices.Contains(n, "guide_fish") {
		t.Errorf("notes %v", n)
	}
	if n := noted(sheet(t, "rules.txt", w)); slices.Contains(n, "guide_fish") {
		t.Errorf("notes %v", n)
	}
}

// Sizes, large ones, seasons, groups and the season's total, each from both sides.
func TestSingleFish(t *testing.T) {
	one := func(book string, minute int, species string, mm int64) []string {
		w := newPhone(t, 1)
		a := w.guest("guest")
		w.add(minute, &journal.Fish{Species: species, Kept: true, Count: 1, Guest: a, Length: &mm})
		return noted(sheet(t, book, w))
	}
	for _, c := range []struct {
		book, species string
		mm            int64
		want          string
	}{{"rules.txt", "walleye", 379, "size"}, {"rules.txt", "walleye", 380, ""}, {"rules-pooled.txt", "walleye", 429, ""}, {"rules-pooled.txt", "walleye", 430, "size"},
		{"rules-pooled.txt", "walleye", 550, "size"}, {"rules-pooled.txt", "walleye", 551, ""}, {"rules-pooled.txt", "walleye", 701, "size"}, {"rules-pooled.txt", "pike", 600, "closed"},
		{"rules-pooled.txt", "sturgeon", 1000, "release"}, {"rules-pooled.txt", "perch", 200, ""}} {
		got := one(c.book, 0, c.species, c.mm)
		if c.want == "" && len(got) > 0 || c.want != "" && !slices.Contains(got, c.want) {
			t.Errorf("%s of %d mm: %v, want %q", c.species, c.mm, got, c.want)
		}
	}
	w := newPhone(t, 1)
	a := w.guest("guest")
	for i, mm := range []int64{500, 501, 520} { // one over 50 cm
		s := sheet(t, "rules.txt", w)
		_, against := s.Landing(a, "walleye", quantity.FromMillimetres(mm))
		if enough := len(against) == 1 && against[0].Code == "over_large"; enough != (i == 2) {
			t.Errorf("%d mm: %+v", mm, against)
		}
		w.add(i, &journal.Fish{Species: "walleye", Kept: true, Count: 1, Guest: a, Length: &mm})
		if got := slices.Contains(noted(sheet(t, "rules.txt", w)), "over_large"); got != (i == 2) {
			t.Errorf("%d large ones: %v", i, got)
		}
	}
	group := head + "daily perch: 15\ndaily walleye: 6\ndaily perch+walleye: 18\n"
	w = newPhone(t, 1)
	a = w.guest("guest")
	w.keep(0, a, "perch", 13)
	w.keep(1, a, "walleye", 4)
	if r := row(t, sheet(t, group, w), a, "walleye"); r.Left != 1 || r.Binding.String() != "daily perch+walleye: 18" {
		t.Errorf("together: %+v", r)
	}
	total := head + "daily perch: 20\nseason total perch: 30\n"
	w = newPhone(t, 1)
	a = w.guest("guest")
	w.on(t0.AddDate(0, 0, -1), &journal.Fish{Species: "perch", Kept: true, Count: 18, Guest: a})
	w.on(t0.AddDate(-1, 0, 0), &journal.Fish{Species: "perch", Kept: true, Count: 18, Guest: a}) // before the book
	w.keep(0, a, "perch", 10)
	if r := row(t, sheet(t, total, w), a, "perch"); r.Left != 2 || r.Why != "season" || r.Kept != 10 {
		t.Errorf("season: %+v", r)
	}
	w.keep(1, a, "perch", 3)
	if n := noted(sheet(t, total, w)); !slices.Equal(n, []string{"over_season"}) {
		t.Errorf("31 of 30: %v", n)
	}
	for text, want := range map[string]int{"calendar day": 10, "any 24 hours": 2} {
		w = newPhone(t, 1)
		a = w.guest("guest")
		w.on(t0.Add(9*time.Hour-23*time.Hour), &journal.Fish{Species: "perch", Kept: true, Count: 8, Guest: a}) // the evening before
		w.keep(0, a, "perch", 10)
		if r := row(t, sheet(t, head+"daily perch: 20\ncounted: "+text+"\n", w), a, "perch"); r.Left != want {
			t.Errorf("%s: %+v", text, r)
		}
	}
}

// A fish changes hands with a reason, and both counts and the trace follow.
func TestReassigningLeavesATrace(t *testing.T) {
	w := newPhone(t, 1)
	jonas, tim := w.guest("guest"), w.guest("guest")
	w.keep(0, jonas, "perch", 19)
	x := w.keep(1, jonas, "perch", 1)
	w.amend(412, x, "Tim's fish", map[string]any{"guest": tim}) // 14:52 of the worked day
	s := sheet(t, "rules.txt", w)
	if j, k := row(t, s, jonas, "perch"), row(t, s, tim, "perch"); j.Kept != 19 || k.Kept != 1 {
		t.Errorf("%+v, %+v", j, k)
	}
	f := view(t, w).Find(x)
	if len(f.Changes) != 1 || f.Changes[0].Why != "Tim's fish" || f.Changes[0].To != tim || !f.Changes[0].When.Equal(t0.Add(412*time.Minute)) {
		t.Errorf("trace %+v", f.Changes)
	}
}

// Several phones: counts are the least they can be, and a phone keeps to the share that was handed out.
func TestPhonesApart(t *testing.T) {
	mine, other := newPhone(t, 1), newPhone(t, 2)
	jonas := mine.guest("guest")
	mine.keep(0, jonas, "perch", 10)
	if s := sheet(t, "rules.txt", mine); s.AtLeast() {
		t.Error("alone, a count is exact")
	}
	other.add(5, &journal.Note{Text: name})
	s := sheet(t, "rules.txt", mine, other)
	if !s.AtLeast() || len(s.Phones) != 1 || !s.Phones[0].Heard.Equal(t0.Add(5*time.Minute)) {
		t.Errorf("phones %+v", s.Phones)
	}
	mine.add(10, &journal.Portion{Parts: []journal.Part{{Journal: uuid.UUID{1}, Person: jonas, Species: "perch", Count: 6}, {Journal: uuid.UUID{2}, Person: jonas, Species: "perch", Count: 4}}})
	for n, want := range map[int]int{0: 6, 4: 2, 6: 0, 7: -1} {
		w := &phone{t: t, head: mine.head, out: slices.Clone(mine.out)}
		w.keep(20, jonas, "perch", n)
		if r := row(t, sheet(t, "rules.txt", w, other), jonas, "perch"); r.Left != want || r.Why != "share" {
			t.Errorf("%d kept of a share of 6: %+v", n, r)
		}
	}
	s = view(t, mine, other).Day(day, t0.Add(9*time.Hour), lawOf(t, "rules.txt", day), uuid.UUID{3})
	if r := row(t, s, jonas, "perch"); r.Left != 0 {
		t.Errorf("a phone that got no share has none: %+v", r)
	}
}

// For every run of keeps by phones that do not hear each other after the shares went out: phones that stop at their share never bring a
// person beyond the limit together, and no phone's count is above the true one.
func TestSharesHold(t *testing.T) {
	full := 0
	for seed := range uint64(200) {
		rng := num.NewStream(seed, "shares")
		limit := lawOf(t, "rules.txt", day)
		phones := []*phone{newPhone(t, 1), newPhone(t, 2), newPhone(t, 3)}
		jonas := phones[0].guest("guest")
		phones[0].keep(0, jonas, "perch", rng.IntN(20))
		left := row(t, view(t, phones[0]).Day(day, t0.Add(time.Hour), limit, uuid.UUID{1}), jonas, "perch").Left
		var parts []journal.Part
		for i := range phones {
			n := left / 3
			if i == 0 {
				n += left % 3
			}
			parts = append(parts, journal.Part{Journal: uuid.UUID{byte(i + 1)}, Person: jonas, Species: "perch", Count: int64(n)})
		}
		phones[0].add(30, &journal.Portion{Parts: parts})
		shared := slices.Clone(phones[0].out)
		for minute := 40; minute < 40+rng.IntN(60); minute++ {
			i := rng.IntN(3)
			seen := phones[i]
			if i > 0 { // it holds what it heard before contact was lost, and its own
				seen = &phone{t: t, out: append(slices.Clone(shared), phones[i].out...)}
			}
			s := view(t, seen).Day(day, t0.Add(3*time.Hour), limit, uuid.UUID{byte(i + 1)})
			if row(t, s, jonas, "perch").Left > 0 {
				phones[i].keep(minute, jonas, "perch", 1)
			}
		}
		s := view(t, phones...).Day(day, t0.Add(3*time.Hour), limit, uuid.UUID{1})
		truth := s.Kept()["perch"]
		if truth > 20 {
			t.Fatalf("seed %d: %d kept", seed, truth)
		}
		if truth == 20 {
			full++
		}
		if k := row(t, view(t, phones[0]).Day(day, t0.Add(3*time.Hour), limit, uuid.UUID{1}), jonas, "perch").Kept; k > truth {
			t.Fatalf("seed %d: one phone counts %d of %d", seed, k, truth)
		}
	}
	if full < 20 {
		t.Errorf("%d of 200 runs reached the limit: too few to tell", full)
	}
}

// Any order of arrival gives the same sheet, and folding bit by bit the same as folding at once.
func TestOrderOfArrival(t *testing.T) {
	a, b := newPhone(t, 1), newPhone(t, 2)
	jonas, tim := a.guest("guest"), a.guest("guest")
	x := a.keep(0, jonas, "perch", 5)
	b.keep(3, jonas, "perch", 4)
	b.amend(4, x, "Tim's", map[string]any{"guest": tim})
	b.add(5, &journal.Possession{Person: tim, What: "carried", Species: "perch", Count: 7})
	want := sheet(t, "rules.txt", a, b)
	all := append(slices.Clone(a.out), b.out...)
	for seed := range uint64(50) {
		rng := num.NewStream(seed, "order")
		mixed := slices.Clone(all)
		for i := len(mixed) - 1; i > 0; i-- {
			k := rng.IntN(i + 1)
			mixed[i], mixed[k] = mixed[k], mixed[i]
		}
		var log journal.Log
		v := &View{}
		for _, e := range mixed {
			if err := log.Add(e); err != nil {
				t.Fatal(err)
			}
			v.Sync(&log)
		}
		s := v.Day(day, t0.Add(9*time.Hour), lawOf(t, "rules.txt", day), uuid.UUID{1})
		for _, who := range []uuid.UUID{jonas, tim} {
			if g, w := row(t, s, who, "perch"), row(t, want, who, "perch"); g.Kept != w.Kept || g.Held != w.Held || g.Left != w.Left {
				t.Fatalf("seed %d: %+v, want %+v", seed, g, w)
			}
		}
	}
}
