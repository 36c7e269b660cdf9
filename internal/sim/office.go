package sim

import (
	"embed"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// office holds the invented rule book and the agency forms of examples/tamaringen, so that the demo needs no files.
//
//go:embed office
var office embed.FS

// inventedName stands before the name of the demo's rule book wherever a page names it: nobody shall take it for a law.
const inventedName = "INVENTED "

// RuleBook gives the text of the demo's rule book: that of examples/tamaringen, its name marked.
func RuleBook() string {
	raw, err := office.ReadFile("office/rules.txt")
	if err != nil {
		panic("sim: the rule book is not embedded")
	}
	return strings.Replace(string(raw), "book: ", "book: "+inventedName, 1)
}

// Furnish adds what belongs to a day besides the ice: law, plan ashore, licences, bookings, forms, books, how rods fish. What was noted
// before stays as it is.
func (d *Demo) Furnish() error {
	b := d.Diary
	b.author.Trip = uuid.Nil
	entered := b.write(clock("2025-12-29", 19, 0), &journal.RuleBook{Text: RuleBook(), Entered: b.text("Ruth Vossler")})
	b.write(clock("2025-12-30", 18, 30), &journal.RuleCheck{Book: entered, By: b.text("Ingrid Vossler")})
	b.setting(clock("2025-12-01", 18, 0), "outfit_name", "Long Flat Guiding")
	b.setting(clock("2025-12-01", 18, 1), "private_names", "Long Flat, Cinder Bar, The Shelf, Owl Trough, Saltbox Reef")
	b.forms()
	b.licences()
	b.morningOffice(d.People)
	b.bookings()
	b.manners()
	b.setting(clock("2026-01-14", 18, 40), "day_close", map[string]any{"day": "2026-01-14", "moved": "wind", "ice": "none", "tomorrow": "best"})
	b.sort()
	return b.err
}

// setting notes a setting.
func (b *Diary) setting(at time.Time, key string, value any) {
	b.write(at, &journal.Setting{Key: key, Value: encode(value)})
}

// forms enters the two agency forms, and hands the sheets of past days in.
func (b *Diary) forms() {
	for i, name := range []string{"lake-log", "landing-sheet"} {
		raw, err := office.ReadFile("office/" + name + ".json")
		if err != nil {
			panic("sim: a form is not embedded")
		}
		b.write(clock("2026-01-01", 18, i), &journal.Setting{Key: "paper_form", Value: json.RawMessage(raw)})
	}
	for _, p := range pastDays {
		if p.family != "" {
			b.setting(clock(p.day, 17, 30), "paper_made", map[string]string{"form": "landing-sheet", "of": string(p.day)})
		}
	}
}

// licences puts numbers onto everybody who needs one, each seen in the morning. They are invented like the people.
func (b *Diary) licences() {
	n := 20_700
	for _, d := range b.Drafts {
		if d.Kind != journal.KindGuest {
			continue
		}
		g := decode(d).(*journal.Guest)
		if g.Age == "child" {
			continue
		}
		n += 7
		b.write(time.UnixMilli(d.At).Add(time.Minute), &journal.Amend{Target: d.ID, Why: "licence shown", Set: map[string]json.RawMessage{
			"licence": encode(b.text(fmt.Sprintf("T %05d", n))), "licence_seen": encode(true), "licence_until": encode("2026-12-31")}})
	}
}

// morningOffice notes the plan left ashore, the talk, what was carried over, ticks and supplies of the demo's day.
func (b *Diary) morningOffice(people []Person) {
	sheet := encode(map[string]any{"watcher": "Ruth Vossler", "calls": []map[string]string{{"who": "Ruth Vossler", "number": "555 0142"}, {"who": "Dale Harkin", "number": "555 0117"}},
		"vehicles": []string{"snow machine with sled, orange"}, "parked": "Harrow Landing", "areas": []string{"Long Flat"}, "equipment": "picks, rope and whistle each; stove; two radios"})
	sealed := b.text("A: " + b.lake.Position(b.lake.Base).DecimalText())
	b.write(clock(today, 6, 15), &journal.Plan{Sheet: b.text(string(sheet)), Sealed: &sealed, Out: clock(today, 6, 42).UnixMilli(), CheckIn: 180,
		Steps: []journal.PlanStep{{Do: "call_party", After: 15, Dark: 15}, {Do: "look_for", After: 30, Dark: 30}, {Do: "call_rescue", After: 60, Dark: 30}}})
	note := b.text("radio, all six well")
	b.write(clock(today, 9, 5), &journal.Shore{What: "check_in", Note: &note})
	told := map[string]bool{}
	for _, k := range []string{"picks", "track", "holes", "vehicles", "heater", "whistle", "base", "toilet", "sweep", "faces", "wet"} {
		told[k] = true
	}
	b.setting(clock(today, 6, 30), "safety_talk", map[string]any{"day": today, "told": told})
	b.setting(clock(today, 6, 31), "law_ticks", map[string]any{"day": today, "told": map[string]bool{"shelter_name": true}})
	for _, p := range people[1:] {
		carried := int64(0)
		if p.Age == "elder" {
			carried = 6
		}
		b.write(clock(today, 6, 35), &journal.Possession{Person: p.ID, What: "carried", Species: "perch", Count: carried})
	}
	for what, left := range map[string]int64{"bait": 75, "battery": 60, "fuel": 80, "heat": 90} {
		b.supply(what, left)
	}
	b.setting(clock(today, 6, 0), "load_out", map[string]any{"day": today, "vehicles": []map[string]any{{"name": "snow machine with sled", "class": "snow_machine", "empty_g": 320_000, "people": 1,
		"items": []map[string]any{{"what": "sled", "each_g": 180_000, "n": 1}, {"what": "auger", "each_g": 12_000, "n": 2}, {"what": "battery", "each_g": 3_000, "n": 4}}}}})
}

// supply notes what is left of something. The order of the map is not that of the acts, so each has an id of its own.
func (b *Diary) supply(what string, left int64) {
	id := journal.ContentID(b.lake.ID, journal.KindSupply, fmt.Sprintf("%s/%d/%s", b.name, b.seed, what))
	at := clock(today, 9, 30)
	b.Drafts = append(b.Drafts, b.author.Draft(id, at, at, &journal.Supply{What: what, Left: left}))
}

// bookings notes who means to come, and the money of the season so far: deposits of one half, figures invented.
func (b *Diary) bookings() {
	albrecht := b.write(clock("2025-10-18", 20, 0), &journal.Booking{Day: today, Name: b.text("Albrecht family and Mr Okafor"), People: 5, Children: 2, State: "booked", Meet: clock(today, 6, 15).UnixMilli()})
	later := b.write(clock("2025-11-02", 20, 0), &journal.Booking{Day: "2026-01-17", Name: b.text("Mr Okafor, with a friend"), People: 2, State: "booked", Meet: clock("2026-01-17", 6, 15).UnixMilli()})
	gone := b.write(clock("2025-11-03", 20, 0), &journal.Booking{Day: "2026-01-22", Name: b.text("Albrecht, a second day"), People: 4, Children: 2, State: "booked"})
	for i, hour := range []int{12, 13} { // a booking cancelled twice
		b.write(clock("2026-01-08", hour, i), &journal.Amend{Target: gone, Set: map[string]json.RawMessage{"state": encode("cancelled"), "why": encode("guests")}, Why: "cancelled"})
	}
	deposit := func(at time.Time, of journal.Day, amount int64, booking uuid.UUID) {
		b.write(at, &journal.Ledger{What: "deposit", Day: of, Amount: amount, Item: "half in advance", Booking: booking})
	}
	deposit(clock("2025-10-19", 9, 0), "2025-10-19", 40_000, albrecht)
	deposit(clock("2025-11-03", 9, 0), "2025-11-03", 20_000, later)
	for _, p := range pastDays {
		if p.family == "" {
			continue
		}
		b.write(clock(p.day, 18, 10), &journal.Ledger{What: "income", Day: p.day, Amount: 80_000, Item: p.family})
		b.write(clock(p.day, 18, 11), &journal.Ledger{What: "cost", Day: p.day, Amount: 4_250, Item: "bait and fuel"})
		ran := int64(70)
		b.write(clock(p.day, 18, 12), &journal.Ledger{What: "gear", Day: p.day, Item: "auger 1", Minutes: &ran})
		b.write(clock(p.day, 18, 13), &journal.Ledger{What: "distance", Day: p.day, Distance: journal.MM(84 * quantity.Kilometre)})
	}
}

// manners tells of the last days' sits how they were fished, two lures and three manners in turn: fish here care for neither, so that an honest
// comparison finds no difference.
func (b *Diary) manners() {
	lures, ways := []string{"gold spoon 7 g", "tungsten jig"}, []string{"lift_drop", "still", "slow_lift"}
	n := 0
	for _, d := range b.Drafts {
		if d.Kind != journal.KindSitStart || d.Day < "2026-01-09" {
			continue
		}
		n++
		screen := []string{"searching", "arriving", "lookers"}[n%3]
		b.write(time.UnixMilli(d.At).Add(30*time.Second), &journal.Presentation{Sit: d.ID, Lure: lures[n%2], Manner: ways[(n/2)%3], Screen: screen})
	}
}
