package desk_test

import (
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// rulesDesk is a lake with an invented rule book, signed, and a clock that tests set.
type rulesDesk struct {
	*desk.Desk
	t   *testing.T
	now time.Time
}

func newRulesDesk(t *testing.T, name string) *rulesDesk {
	t.Helper()
	x := &rulesDesk{t: t}
	x.at("06:00")
	st := mem.New(store.Identity{Outfit: journal.NewID(), Account: journal.NewID(), Journal: journal.NewID(), Epoch: journal.NewID(), Made: x.now})
	var err error
	if x.Desk, err = desk.Open(t.Context(), st, desk.Options{Clock: func() time.Time { return x.now }}); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile("../../../examples/tamaringen/" + name)
	if err != nil {
		t.Fatal(err)
	}
	x.ok(x.FoundLake(t.Context(), desk.Act{}, "Tamaringen", geo.Position{Lat: 47.9, Lon: -45}, "Etc/GMT+3", ""))
	_, err = x.EnterRules(t.Context(), desk.Act{}, string(text), "Ruth")
	x.ok(err)
	x.ok(x.SignRules(t.Context(), desk.Act{}, uuid.Nil, "Ingrid"))
	return x
}

func (x *rulesDesk) ok(err error) {
	x.t.Helper()
	if err != nil {
		x.t.Fatal(err)
	}
}

func (x *rulesDesk) at(clock string) {
	t, err := time.Parse(time.RFC3339, "2026-01-15T"+clock+":00-03:00")
	if err != nil {
		x.t.Fatal(err)
	}
	x.now = t
}

func (x *rulesDesk) joins(j desk.Joining) uuid.UUID {
	x.t.Helper()
	id := journal.NewID()
	x.ok(x.Join(x.t.Context(), desk.Act{ID: id}, j))
	return id
}

// codes gives what the law has against the day now.
func (x *rulesDesk) codes() (out []string) {
	x.t.Helper()
	x.ok(x.Read(x.t.Context(), func(v desk.View) error {
		for _, a := range v.Lawful() {
			out = append(out, a.Code)
		}
		return nil
	}))
	return out
}

func (x *rulesDesk) want(when string, codes ...string) {
	x.t.Helper()
	got := x.codes()
	slices.Sort(got)
	slices.Sort(codes)
	if strings.Join(got, " ") != strings.Join(codes, " ") {
		x.t.Errorf("%s: %v, want %v", when, got, codes)
	}
}

// Before a line drops it is said whose licence nobody has seen, what must be ticked, and too many lines; once settled, nothing is said.
func TestBeforeALineDrops(t *testing.T) {
	x := newRulesDesk(t, "rules.txt")
	x.want("nobody out")
	x.joins(desk.Joining{Name: "Ingrid Vossler", Role: "guide"})
	petra := x.joins(desk.Joining{Name: "Petra Albrecht"})
	x.joins(desk.Joining{Name: "Lena Albrecht", Age: "child"}) // the book asks for a licence from 16
	jonas := x.joins(desk.Joining{Name: "Jonas Albrecht", Seen: true, Until: "2026-01-14"})
	x.want("before", "licence", "licence_expired", "tick")
	seen, until := true, journal.Day("2026-12-31")
	x.ok(x.TellRoster(t.Context(), desk.Act{}, petra, desk.Roster{Seen: &seen}))
	x.ok(x.TellRoster(t.Context(), desk.Act{}, jonas, desk.Roster{Until: &until}))
	x.want("licences seen", "tick")
	if err := x.TellTicks(t.Context(), desk.Act{}, "2026-01-15", []string{"bait"}); err == nil {
		t.Error("ticked what the book does not ask")
	}
	x.ok(x.TellTicks(t.Context(), desk.Act{}, "2026-01-15", []string{"shelter_name"}))
	x.want("ticked")
	x.ok(x.Plan(t.Context(), desk.Act{At: x.now}, &journal.Trip{Rods: 6, Travel: "foot", Target: "perch"}))
	x.want("six lines for three guests at two each")
	x.ok(x.Plan(t.Context(), desk.Act{At: x.now}, &journal.Trip{Rods: 7, Travel: "foot", Target: "perch"}))
	x.want("seven lines", "lines")
}

// Hours and season of the target are told while somebody is out, and nothing after everybody is ashore.
func TestClosedHours(t *testing.T) {
	x := newRulesDesk(t, "rules-pooled.txt") // 30 min before sunrise to 30 min after sunset: 07:15 to 17:03
	x.joins(desk.Joining{Name: "Jonas", Seen: true, OnIce: true})
	x.ok(x.TellTicks(t.Context(), desk.Act{}, "2026-01-15", []string{"bait", "hooks"}))
	x.at("07:00")
	x.want("before the hours", "hours")
	x.at("07:30")
	x.want("in the hours")
	x.at("17:30")
	x.want("after the hours", "hours")
	x.ok(x.Report(t.Context(), desk.Act{}, nil, "ashore"))
	x.want("ashore")
	x.at("17:40")
	x.ok(x.Plan(t.Context(), desk.Act{At: x.now}, &journal.Trip{Rods: 1, Travel: "foot", Target: "pike"}))
	x.ok(x.Report(t.Context(), desk.Act{}, nil, "on_ice"))
	x.want("pike, out again", "season", "second_trip")
}

// Lines that nobody is by, lines left for an hour, holes without marks, areas that are closed, and fish cleaned on the ice are told.
func TestOnTheIce(t *testing.T) {
	x := newRulesDesk(t, "rules.txt")
	x.ok(x.TellTicks(t.Context(), desk.Act{}, "2026-01-15", []string{"shelter_name"}))
	jonas := x.joins(desk.Joining{Name: "Jonas", Seen: true, OnIce: true})
	x.at("08:00")
	x.ok(x.Sit(t.Context(), desk.Act{}, desk.HoleRef{Place: &advise.Place{}}, 1, jonas, "perch"))
	x.want("by the line")
	x.ok(x.Record(t.Context(), desk.Act{}, &journal.Claim{Person: jonas, State: "leaving"}))
	x.want("gone in early", "unattended")
	x.ok(x.Record(t.Context(), desk.Act{}, &journal.Claim{Person: jonas, State: "on_ice"}))
	x.at("09:30")
	x.want("always attended asks for no look every hour")
	x.ok(x.LeaveAshore(t.Context(), desk.Act{}, desk.PlanText{Day: "2026-01-15", Sheet: desk.Sheet{Watcher: "Ruth", Areas: []string{"Long Flat", "Kettle Springs"}}}))
	x.want("on foot at the springs")
	x.ok(x.Plan(t.Context(), desk.Act{At: x.now}, &journal.Trip{Rods: 1, Travel: "machine", Target: "perch"}))
	x.want("by machine at the springs", "zone")
	x.ok(x.LeaveAshore(t.Context(), desk.Act{}, desk.PlanText{Day: "2026-01-15", Sheet: desk.Sheet{Watcher: "Ruth", Areas: []string{"Long Flat"}}}))
	x.ok(x.Fish(t.Context(), desk.FishAct{Species: "walleye", Guest: jonas, Kept: true, Length: 0.45}))
	x.ok(x.Hold(t.Context(), desk.HoldAct{Possession: journal.Possession{Person: jonas, What: "processed", Species: "walleye", Count: 1}}))
	x.want("cleaned on the ice", "cleaned_on_ice")
	y := newRulesDesk(t, "rules-pooled.txt")
	y.ok(y.TellTicks(t.Context(), desk.Act{}, "2026-01-15", []string{"bait", "hooks"}))
	who := y.joins(desk.Joining{Name: "Jonas", Seen: true, OnIce: true})
	y.at("08:00")
	y.ok(y.Sit(t.Context(), desk.Act{}, desk.HoleRef{Place: &advise.Place{}}, 1, who, "perch"))
	y.want("fished, so not left")
	y.at("09:01")
	y.want("not looked at for an hour", "unattended")
	y.ok(y.Sit(t.Context(), desk.Act{}, desk.HoleRef{Place: &advise.Place{}}, 1, who, "perch"))
	y.want("the first hole left without a mark", "unmarked")
}
