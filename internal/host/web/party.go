package web

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
)

// partyView is the page Party: for the guide's eyes. It is never shown to guests as a ranking.
type partyView struct {
	Loud     []string
	Call     string // the first to call over, in a sentence; "" when no fish are at a hole
	CallWhy  string
	Calls    []calledView
	Seats    []calledView
	SeatWhy  string
	Members  []memberView
	Supplies []supplyView
	Open     string
	Holes    []openView
	More     string // how many holes are not listed
	Today    string
	Out      string // key that reports everybody on the ice; "" when all are
	Rod      string // the next rod that nobody has
}

type calledView struct{ Name, Text string }

type memberView struct {
	ID, Name, Is       string
	Waited, Where      string
	Licence            string
	Stale              bool // the licence needs a look
	Keys               []tellKey
	Notes, Until       string
	Seen, Number, Kept bool
	Twice              bool // the same name stands twice
}

type supplyView struct {
	Word, Text string
	Low        bool
	Keys       []tellKey
}

type openView struct {
	Name, Text string
	Keys       []tellKey
}

// barredWords say why somebody is not called over.
var barredWords = map[string]string{advise.NotHere: "not with the party", advise.NoPlace: "where they are is not known", advise.TooFar: "farther than they are walked", advise.TooLate: "the fish would be gone first",
	advise.AtLimit: "at the limit", advise.ChildFar: "no grown-up would be near", advise.AlreadyIn: "sits there"}

func (h *handler) party(w http.ResponseWriter, r *http.Request, v *visit) error {
	g, err := h.Desk.Gathering(r.Context())
	if err != nil {
		return err
	}
	view := partyView{Today: string(g.Day)}
	for _, name := range g.Loud {
		view.Loud = append(view.Loud, name+": reports contradict, or out of sight. Counted as on the ice. Find them.")
	}
	view.calling(v, g)
	for i := range g.Members {
		view.Members = append(view.Members, memberOf(v, &g.Members[i], g.Day))
	}
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		view.seats(d, v, g)
		return nil
	})
	if err != nil {
		return err
	}
	view.supplies(v, g)
	view.holes(g)
	view.joining(g)
	return h.show(w, r, v, http.StatusOK, "Party", partyPage(view))
}

// joining fills what the form for somebody more needs.
func (view *partyView) joining(g desk.Gathering) {
	ashore, rod := 0, 0
	for _, m := range g.Members {
		ashore += map[bool]int{true: 1}[!m.Told]
		rod = max(rod, m.Rod)
	}
	view.Rod = strconv.Itoa(rod + 1)
	if ashore > 1 {
		view.Out = fmt.Sprintf("All %d are on the ice", len(g.Members))
	}
}

// calling says whom to call over, and why not the others.
func (view *partyView) calling(v *visit, g desk.Gathering) {
	c := g.Calling
	if c == nil {
		view.CallWhy = "No sign of fish at a hole in the last minutes: nobody to call over."
		return
	}
	names := map[string]string{}
	for _, m := range g.Members {
		names[m.ID.String()] = m.Name
	}
	view.CallWhy = fmt.Sprintf("Fish at hole %s since %s. Expected there for about %s more, from %s on record and what is usual.", say.HoleName(c.Hole, g.Day), v.voice.Clock(c.Since), say.Span(c.Stay), spellsWord(c.Rests))
	for i, x := range c.Who {
		name := names[x.Person.String()]
		if x.Barred != "" {
			view.Calls = append(view.Calls, calledView{name, "not called: " + barredWords[x.Barred]})
			continue
		}
		if i == 0 {
			view.Call = "Call " + name + " to hole " + say.HoleName(c.Hole, g.Day) + "."
		}
		view.Calls = append(view.Calls, calledView{name, fmt.Sprintf("there in %s, %s at the fish", say.Span(x.Arrives), say.Span(x.Fishes))})
	}
	if view.Call == "" {
		view.Call = "Nobody can be called to hole " + say.HoleName(c.Hole, g.Day) + " in time."
	}
}

// seats says the seat plan.
func (view *partyView) seats(d desk.View, v *visit, g desk.Gathering) {
	if g.Base == "" {
		return
	}
	view.SeatWhy = "From where the load stands: "
	if g.Base == "first_sit" {
		view.SeatWhy = "From where the first line went down today: "
	}
	view.SeatWhy += "children nearest with a grown-up beside, elders next, the others where most signs were. You know them: change it."
	why := map[string]string{advise.NearBase: "near the base", advise.ByChild: "beside a child", advise.Outer: "most signs of fish", advise.NoHole: "no open hole in reach: drill one"}
	for _, s := range g.Seats {
		text := why[s.Why]
		if o := d.Lake.Hole(s.Hole); o != nil {
			text = "hole " + say.HoleName(o, g.Day) + ", " + v.voice.Units.DistanceText(s.Base) + " from the base: " + text
		}
		view.Seats = append(view.Seats, calledView{d.PersonName(s.Person), text})
	}
}

func spellsWord(n int) string {
	if n == 1 {
		return "1 earlier spell"
	}
	return fmt.Sprintf("%d earlier spells", n)
}

// memberOf says what is known of one of the party.
func memberOf(v *visit, m *desk.Member, today journal.Day) memberView {
	x := memberView{ID: m.ID.String(), Name: m.Name, Is: m.Role + ", " + m.Age, Notes: m.Notes, Until: string(m.Until), Seen: m.Seen, Number: m.Number, Kept: m.Role == "guest"}
	if x.Name == "" {
		x.Name = "(name erased)"
	}
	if x.Twice = m.Twice; m.Twice {
		x.Is += "; the same name stands twice: is it one person?"
	}
	switch {
	case m.Fished:
		x.Waited = say.Span(m.Waited) + " since the last fish"
	case m.Waited > 0:
		x.Waited = say.Span(m.Waited) + " without a fish"
	}
	x.Where = map[string]string{"": "not reported", "on_ice": "on the ice", "ashore": "ashore", "leaving": "on the way in, alone", "unseen": "OUT OF SIGHT"}[m.Where.State]
	if m.Told {
		x.Where += " since " + v.voice.When(m.Where.Since)
	}
	if m.Where.Contradictory {
		x.Where = "REPORTS CONTRADICT: counted as on the ice"
	}
	if m.Hole != nil && m.Where.State != "ashore" {
		x.Where += "; hole " + say.HoleName(m.Hole, today)
		if !m.Fishing {
			x.Where += ", line not down"
		}
	}
	if x.Kept {
		x.Licence = map[string]string{desk.LicenceSeen: "licence seen", desk.LicenceNotSeen: "licence not seen", desk.LicenceExpired: "licence expired " + string(m.Until)}[m.Licence]
		if m.Age == "child" && m.Licence == desk.LicenceNotSeen {
			x.Licence = "licence not seen; children may need none: look at your rule book"
		}
		x.Stale = m.Licence != desk.LicenceSeen && m.Age != "child"
	}
	claim := func(word, state string) tellKey {
		return tellKey{word, []field{{"person", x.ID}, {"state", state}, {"back", "/party"}}}
	}
	switch m.Where.State {
	case "on_ice":
		x.Keys = []tellKey{claim("Goes in early", "leaving"), claim("Out of sight", "unseen")}
	case "leaving":
		x.Keys = []tellKey{claim("Is ashore", "ashore"), claim("Out of sight", "unseen"), claim("Back with us", "on_ice")}
	case "unseen":
		x.Keys = []tellKey{claim("Found, on the ice", "on_ice"), claim("Is ashore", "ashore")}
	default:
		x.Keys = []tellKey{claim("On the ice", "on_ice")}
	}
	return x
}

// lowSupply is what is left when it is said loudly, in percent; common practice, no source.
const lowSupply = 25

func (view *partyView) supplies(v *visit, g desk.Gathering) {
	for _, what := range []string{"bait", "battery", "fuel", "heat"} {
		x := supplyView{Word: what, Text: "not told today"}
		for _, s := range g.Supplies {
			if s.What == what {
				x.Text, x.Low = fmt.Sprintf("%d %% left, %s", s.Left, v.voice.Ago(s.When)), s.Left <= lowSupply
			}
		}
		for _, n := range []int{100, 50, 25, 10} {
			x.Keys = append(x.Keys, tellKey{fmt.Sprint(n), []field{{"what", what}, {"left", fmt.Sprint(n)}}})
		}
		view.Supplies = append(view.Supplies, x)
	}
}

// mostListed is how many open holes are listed; the rest are counted.
const mostListed = 12

func (view *partyView) holes(g desk.Gathering) {
	big, marked := 0, 0
	for _, h := range g.Open {
		if h.State == "marked" {
			marked++
			continue
		}
		if h.Big() {
			big++
		}
	}
	view.Open = fmt.Sprintf("%d holes stand open: %d marked, %d unmarked that somebody can step into.", len(g.Open), marked, big)
	listed := slices.Clone(g.Open)
	slices.Reverse(listed)
	for i, h := range listed {
		if i == mostListed {
			view.More = fmt.Sprintf("and %d more", len(listed)-mostListed)
			break
		}
		x := openView{Name: say.HoleName(h, g.Day), Text: map[string]string{"": "open", "reopened": "opened again", "marked": "marked"}[h.State]}
		for _, s := range []string{"marked", "closed"} {
			if h.State != s {
				x.Keys = append(x.Keys, tellKey{strings.ToUpper(s[:1]) + s[1:], []field{{"hole", h.ID.String()}, {"state", s}}})
			}
		}
		view.Holes = append(view.Holes, x)
	}
}

// postJoin puts somebody onto the day.
func (h *handler) postJoin(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	f := r.PostForm
	j := desk.Joining{Name: f.Get("name"), Role: f.Get("role"), Age: f.Get("age"), Licence: f.Get("licence"), Seen: f.Get("seen") != "", Until: journal.Day(strings.TrimSpace(f.Get("until"))),
		Notes: f.Get("notes"), OnIce: f.Get("on_ice") != ""}
	if s := strings.TrimSpace(f.Get("rod")); s != "" {
		if j.Rod, err = strconv.ParseInt(s, 10, 64); err != nil || j.Rod < 0 || j.Rod > 99 {
			return fault.New(fault.BadInput, "Write the number of a rod, or leave it empty.", "%.20q is no rod", s)
		}
	}
	if err := h.Desk.Join(r.Context(), a, j); err != nil {
		return err
	}
	return back(w, r, "/party")
}

// postDouble takes somebody off the day who was entered twice.
func (h *handler) postDouble(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	person, err := uuidOf(r.PostForm, "person")
	if err == nil {
		err = h.Desk.Double(r.Context(), a, person, r.PostForm.Get("why"))
	}
	if err != nil {
		return err
	}
	return back(w, r, "/party")
}

// postRoster tells something of one of the party.
func (h *handler) postRoster(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	person, err := uuidOf(r.PostForm, "person")
	if err != nil {
		return err
	}
	f := r.PostForm
	seen, until := f.Get("seen") != "", journal.Day(strings.TrimSpace(f.Get("until")))
	x := desk.Roster{Seen: &seen}
	if f.Has("notes") { // the whole form, not the one key
		x.Notes = ptr(f.Get("notes"))
	}
	if f.Has("until") {
		x.Until = &until
	}
	if n := strings.TrimSpace(f.Get("licence")); n != "" { // it is never shown again: empty leaves it
		x.Licence = &n
	}
	if err := h.Desk.TellRoster(r.Context(), a, person, x); err != nil {
		return err
	}
	return back(w, r, "/party")
}

// postSupply tells what is left of something.
func (h *handler) postSupply(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	left, err := strconv.ParseInt(r.PostForm.Get("left"), 10, 64)
	if err != nil {
		return fault.New(fault.BadInput, "Choose how much is left.", "%q is no share", r.PostForm.Get("left"))
	}
	if err := h.Desk.Record(r.Context(), a, &journal.Supply{What: r.PostForm.Get("what"), Left: left}); err != nil {
		return err
	}
	return back(w, r, "/party#left")
}

// postHoleState tells what became of a hole: by its identity, or by number and day.
func (h *handler) postHoleState(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	if r.PostForm.Get("all") != "" {
		if err := h.Desk.AllHoles(r.Context(), a, r.PostForm.Get("state")); err != nil {
			return err
		}
		return back(w, r, "/party#open")
	}
	id, err := uuidOf(r.PostForm, "hole")
	if err != nil {
		return err
	}
	if number := strings.TrimSpace(r.PostForm.Get("number")); number != "" {
		n, err := strconv.ParseInt(number, 10, 64)
		day := journal.Day(strings.TrimSpace(r.PostForm.Get("day")))
		if err != nil || !day.Valid() {
			return fault.New(fault.BadInput, "Give the hole's number and its day.", "no hole is named by %q of %q", number, string(day))
		}
		if id, err = h.Desk.HoleByNumber(r.Context(), day, n); err != nil {
			return err
		}
	}
	known := false
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		known = d.Lake.Hole(id) != nil
		return nil
	})
	if err == nil && !known {
		err = fault.New(fault.NotFound, "Look it up under Day, then give its number and its day.", "that hole is not on record")
	}
	if err != nil {
		return err
	}
	if err := h.Desk.Record(r.Context(), a, &journal.HoleState{Hole: id, State: r.PostForm.Get("state")}); err != nil {
		return err
	}
	return back(w, r, "/party#open")
}
