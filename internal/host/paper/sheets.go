package paper

import (
	"context"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/host/web"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/party"
)

// CleaningView holds fish in bags against the tally.
type CleaningView struct {
	head
	Rows    []CleaningRow
	Counted bool
	Says    string
	Differ  bool
	Unnamed string
}

// CleaningRow is one person and species.
type CleaningRow struct {
	Name, Species, Field string
	Tally                int
	Bagged               string // as counted; "" when not
	Says                 string
	Differ               bool
}

func (p *Pages) cleaning(r *http.Request, _ web.Visitor) (web.Answer, error) {
	day, err := p.day(r)
	if err != nil {
		return web.Answer{}, err
	}
	view, err := p.Cleaning(r.Context(), day)
	return web.Answer{Title: "Cleaning sheet", Body: cleaningPage(view)}, err
}

// Cleaning holds fish in bags against the tally of a day.
func (p *Pages) Cleaning(ctx context.Context, day journal.Day) (view CleaningView, err error) {
	err = p.desk.Read(ctx, func(v desk.View) error {
		view.head = heading(Path+"/cleaning", day, v)
		view.fill(v, day)
		return nil
	})
	return view, err
}

// kept gives kept fish by person and species.
func kept(v desk.View, day journal.Day) map[uuid.UUID]map[string]int {
	out := map[uuid.UUID]map[string]int{}
	for _, f := range v.Sheet(day, v.Now).Fish() {
		if f.Kept {
			if out[f.Person] == nil {
				out[f.Person] = map[string]int{}
			}
			out[f.Person][f.Species] += f.Count
		}
	}
	return out
}

func (view *CleaningView) fill(v desk.View, day journal.Day) {
	tally := kept(v, day)
	bags, counted := v.BagsOf(day)
	view.Counted = counted
	in := map[string]int{}
	for _, b := range bags.Bags {
		in[b.Person.String()+" "+b.Species] = b.Fish
	}
	inBags, kept := 0, 0
	for _, g := range people(v, day) {
		species := slices.Sorted(maps.Keys(tally[g.ID]))
		if len(species) == 0 && g.Role == "guest" {
			species = []string{"perch"}
		}
		for _, s := range species {
			row := CleaningRow{Name: v.PersonName(g.ID), Species: s, Field: "bag " + g.ID.String() + " " + s, Tally: tally[g.ID][s]}
			kept += row.Tally
			if n, ok := in[g.ID.String()+" "+s]; counted && ok {
				inBags += n
				row.Bagged = strconv.Itoa(n)
				switch row.Differ = n != row.Tally; {
				case n > row.Tally:
					row.Says = fmt.Sprintf("%d more in the bag", n-row.Tally)
				case n < row.Tally:
					row.Says = fmt.Sprintf("%d fewer in the bag", row.Tally-n)
				default:
					row.Says = "agrees"
				}
			}
			view.Differ = view.Differ || row.Differ
			view.Rows = append(view.Rows, row)
		}
	}
	unnamed := 0
	for _, n := range tally[uuid.Nil] {
		unnamed += n
	}
	if unnamed > 0 {
		view.Unnamed = fmt.Sprintf("%d kept fish have no name yet. Name them on People before bags are labelled.", unnamed)
	}
	if view.Says = fmt.Sprintf("%d kept by the tally. Nobody has counted the bags.", kept+unnamed); counted {
		view.Says = fmt.Sprintf("%d in bags, %d kept by the tally.", inBags, kept+unnamed)
		view.Differ = view.Differ || inBags != kept+unnamed
	}
}

// people lists who was out on a day, guides first.
func people(v desk.View, day journal.Day) (out []*party.Guest) {
	for _, g := range v.Party.Guests {
		if g.Day == day {
			out = append(out, g)
		}
	}
	slices.SortStableFunc(out, func(a, b *party.Guest) int {
		rank := func(g *party.Guest) int {
			if g.Role == "guest" {
				return 1
			}
			return 0
		}
		return rank(a) - rank(b)
	})
	return out
}

func (p *Pages) postBags(r *http.Request, _ web.Visitor) (web.Answer, error) {
	a, err := web.ActIn(r)
	if err != nil {
		return web.Answer{}, err
	}
	day := r.PostForm.Get("day")
	b := desk.Bags{Day: journal.Day(day)}
	for _, key := range slices.Sorted(maps.Keys(r.PostForm)) {
		rest, ok := strings.CutPrefix(key, "bag ")
		text := strings.TrimSpace(r.PostForm.Get(key))
		if !ok || text == "" {
			continue
		}
		id, species, _ := strings.Cut(rest, " ")
		person, err := uuid.Parse(id)
		if err != nil || species == "" || len(species) > 40 {
			return web.Answer{}, fault.New(fault.BadInput, "Go back and enter it again.", "the form names no person")
		}
		n, err := strconv.Atoi(text)
		if err != nil {
			return web.Answer{}, fault.New(fault.BadInput, "Write a whole number of fish.", "%q is no number of fish", text)
		}
		b.Bags = append(b.Bags, desk.Bag{Person: person, Species: species, Fish: n})
	}
	if len(b.Bags) == 0 {
		return web.Answer{}, fault.New(fault.BadInput, "Count at least one bag; write 0 for an empty one.", "no bag was counted")
	}
	return to(Path+"/cleaning", day), p.desk.TellBags(r.Context(), a, b)
}

// PartyView is the party sheet: who comes, what goes onto which vehicle, how much ice can be drilled.
type PartyView struct {
	head
	Bookings []BookingView
	People   []PersonView
	Lacks    []string
	Vehicles []VehicleView
	Loads    string // as typed
	From     string // where the load-out stands from
	Budget   []string
	Reasons  []string
}

// PersonView is one of the party.
type PersonView struct{ Name, Role, Age, Licence, Notes string }

// BookingView is a booking.
type BookingView struct{ ID, Name, Says, Note string }

// VehicleView is a vehicle with its load against the load check.
type VehicleView struct {
	Name, Total, Says, Nearest, Asks, State string
	Gear                                    []string
}

func (p *Pages) party(r *http.Request, x web.Visitor) (web.Answer, error) {
	day, err := p.day(r)
	if err != nil {
		return web.Answer{}, err
	}
	view, err := p.Party(r.Context(), day, x.Units)
	return web.Answer{Title: "Party sheet", Body: partyPage(view)}, err
}

// Party gives the party sheet of a day.
func (p *Pages) Party(ctx context.Context, day journal.Day, units quantity.System) (PartyView, error) {
	b, err := p.desk.Books(ctx)
	if err != nil {
		return PartyView{}, err
	}
	view := PartyView{Reasons: desk.CancelReasons()}
	var loads desk.LoadOut
	voice := say.Voice{Units: units}
	err = p.desk.Read(ctx, func(v desk.View) error {
		voice.Zone, voice.Now = v.Lake.Zone, v.Now
		voice.Hole = func(id uuid.UUID) string {
			if o := v.Lake.Hole(id); o != nil {
				return say.HoleName(o, v.Today)
			}
			return ""
		}
		view.head = heading(Path+"/party", day, v)
		for _, k := range b.Roster(day) {
			y := BookingView{ID: k.ID.String(), Name: v.Name(k.Name), Says: peopleText(k.People, k.Children) + ", " + k.State}
			if at := k.MeetAt(); !at.IsZero() {
				y.Says += ", meet " + at.In(v.Lake.Zone).Format("15:04")
			}
			if k.Note != nil {
				y.Note = v.Name(*k.Note)
			}
			view.Bookings = append(view.Bookings, y)
		}
		view.fillPeople(v, day)
		var told bool
		loads, told = v.LoadOutOf(day)
		view.Loads = loads.Text()
		if !told && loads.Day != "" {
			view.From = "As on " + say.Date(loads.Day) + ": change it and save it for this day."
		}
		view.Budget = budget(v, units, day)
		return nil
	})
	if err != nil {
		return view, err
	}
	for _, l := range loads.Vehicles {
		y := VehicleView{Name: l.Name, Total: units.MassText(l.Mass())}
		y.Gear = append(y.Gear, fmt.Sprintf("%s empty", units.MassText(desk.VehicleLoad{Empty: l.Empty}.Mass())), fmt.Sprintf("%s at %s each", peopleText(int64(l.People), 0), units.MassText(safety.PersonMass)))
		for _, g := range l.Items {
			y.Gear = append(y.Gear, fmt.Sprintf("%d x %s, %s", g.N, g.What, units.MassText(desk.VehicleLoad{Items: []desk.LoadedItem{g}}.Mass())))
		}
		a, err := p.desk.Ice(ctx, nil, safety.Load{Class: l.Class, Mass: l.Mass()})
		if err != nil {
			return view, err
		}
		t := voice.Ice(a)
		y.State, y.Says, y.Nearest, y.Asks = t.State, t.Sentence, t.Nearest, t.Asks
		view.Vehicles = append(view.Vehicles, y)
	}
	return view, nil
}

func (view *PartyView) fillPeople(v desk.View, day journal.Day) {
	for _, g := range people(v, day) {
		y := PersonView{Name: v.PersonName(g.ID), Role: g.Role, Age: g.Age, Licence: "seen"}
		if g.Until != "" {
			y.Licence += ", until " + string(g.Until)
		}
		switch {
		case g.Until != "" && g.Until < day:
			y.Licence = "RUN OUT " + string(g.Until)
			view.Lacks = append(view.Lacks, y.Name+": licence ran out "+string(g.Until))
		case !g.Seen && g.Age == "child":
			y.Licence = "not seen; a child may be exempt"
		case !g.Seen:
			y.Licence = "NOT SEEN"
			view.Lacks = append(view.Lacks, y.Name+": licence not seen")
		}
		if g.Notes != nil {
			y.Notes = v.Name(*g.Notes)
		}
		view.People = append(view.People, y)
	}
}

// budget says the hole budget in length of ice.
func budget(v desk.View, units quantity.System, day journal.Day) []string {
	drill, drilled, ice, from := v.HoleBudget(day)
	length := func(m float64) string {
		if units.String() == "us" {
			return fmt.Sprintf("%.0f ft", m/0.3048)
		}
		return fmt.Sprintf("%.1f m", m)
	}
	var out []string
	switch {
	case drill == 0:
		out = append(out, "What the batteries can drill is not told: tell it on Trip.")
	case ice == 0:
		out = append(out, fmt.Sprintf("The batteries drill %s of ice. No ice is read, so no holes can be told.", length(drill.Metres())))
	default:
		out = append(out, fmt.Sprintf("The batteries drill %s of ice: %d holes at %s, the mean read on %s.", length(drill.Metres()), int(drill/ice), units.IceText(ice), say.Date(from)))
		if drilled > 0 {
			out = append(out, fmt.Sprintf("Drilled on the day: about %s. Left: about %s, %d holes.", length(drilled.Metres()), length(max(0, (drill-drilled).Metres())), max(0, int((drill-drilled)/ice))))
		}
		out = append(out, "Keep enough for the test holes on the way home. Hard cold leaves about 60 % of a pack (common practice, no source).")
	}
	return out
}

func (p *Pages) postLoad(r *http.Request, _ web.Visitor) (web.Answer, error) {
	a, err := web.ActIn(r)
	if err != nil {
		return web.Answer{}, err
	}
	day := r.PostForm.Get("day")
	l, err := desk.ParseLoadOut(journal.Day(day), r.PostForm.Get("loads"))
	if err != nil {
		return web.Answer{}, err
	}
	return to(Path+"/party", day), p.desk.TellLoadOut(r.Context(), a, l)
}

func (p *Pages) postBooking(r *http.Request, _ web.Visitor) (web.Answer, error) {
	a, err := web.ActIn(r)
	if err != nil {
		return web.Answer{}, err
	}
	f := r.PostForm
	t := desk.BookingText{Day: f.Get("day"), Name: f.Get("name"), People: f.Get("people"), Children: f.Get("children"), Meet: f.Get("meet"), Note: f.Get("note"), Asked: f.Get("asked") != ""}
	return to(Path+"/party", t.Day), p.desk.Book(r.Context(), a, t)
}

func (p *Pages) postCancel(r *http.Request, _ web.Visitor) (web.Answer, error) {
	a, err := web.ActIn(r)
	if err != nil {
		return web.Answer{}, err
	}
	id, err := uuid.Parse(r.PostForm.Get("booking"))
	if err != nil {
		return web.Answer{}, fault.New(fault.BadInput, "Choose one of the bookings.", "the form names no booking")
	}
	return to(Path+"/party", r.PostForm.Get("day")), p.desk.CancelBooking(r.Context(), a, id, r.PostForm.Get("why"))
}
