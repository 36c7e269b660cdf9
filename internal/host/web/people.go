package web

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/party"
)

// peopleView is the page People.
type peopleView struct {
	Out     string // how many are on the ice
	Count   string // the last head count
	Missing string // who was missing at it
	Rows    []personView
	Unnamed []unnamedView
	Names   []nameView
	Called  []nameView // who is counted
	Open    bool       // the roll call is open
	Sweep   string     // id of who comes last, as told last
	Loud    []string   // whose reports contradict, who is out of sight
	Stands  string     // limits reached and fish put back that bear on all of them
	Moved   string     // the party has moved since the last head count
	All     string     // All 6
	Lines   string
	Rules   string
	Against []string // what the law has against the day, first what must be settled before a line drops
	Phones  string   // others that wrote today: what they keep, nobody here knows
}

type personView struct {
	ID, Name, Role string
	Kept, PutBack  string
	Left           string // of the limits
	Stop           bool   // at one of them, or beyond
	Last           string // since the last fish
	OnIce          bool
	Where          string
	Due            string     // the warm-up that is due; "" when none is
	Walks          string     // how far at a stretch, told or usual for the age
	Reaches        []reachKey // what one tap tells
}

// reachKey tells how far somebody is walked.
type reachKey struct {
	Word   string
	Fields []field
	Chosen bool
}

// reaches are the distances that one tap tells; ours.
var reaches = []quantity.Length{100, 200, 300, 500, 800, 1500}

// walks fills how far a person is walked at a stretch.
func (p *personView) walks(v *visit, g *party.Guest) {
	usual := advise.UsualReach(g.Age)
	p.Walks = "walks " + v.voice.Units.DistanceText(usual) + ", usual"
	if g.Reach > 0 {
		p.Walks = "walks " + v.voice.Units.DistanceText(g.Reach) + ", told"
	}
	for _, l := range reaches {
		p.Reaches = append(p.Reaches, reachKey{v.voice.Units.DistanceText(l), []field{{"person", p.ID}, {"reach", fmt.Sprint(l.Millimetres())}}, g.Reach == l})
	}
}

// postReach tells how far somebody is walked at a stretch.
func (h *handler) postReach(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	person, err := uuidOf(r.PostForm, "person")
	if err != nil {
		return err
	}
	mm, err := strconv.ParseInt(r.PostForm.Get("reach"), 10, 64)
	if err != nil {
		return fault.New(fault.BadInput, "Choose a distance.", "%q is no distance", r.PostForm.Get("reach"))
	}
	if err := h.Desk.SetReach(r.Context(), a, person, quantity.FromMillimetres(mm)); err != nil {
		return err
	}
	return back(w, r, "/people")
}

type nameView struct{ ID, Name string }

func (h *handler) people(w http.ResponseWriter, r *http.Request, v *visit) error {
	view := peopleView{Open: r.URL.Query().Get("count") != ""}
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		view.fill(d, v)
		return nil
	})
	if err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "People", peoplePage(view))
}

// fill says who is out, what each has kept, and what still needs a name.
func (view *peopleView) fill(d desk.View, v *visit) {
	tally, sheet := d.Party.Tally(d.Today), d.Sheet(d.Today, d.Now)
	view.Stands, view.Against = sentenceCase(strings.Join(ledgerStands(d, v), "; ")), against(d)
	view.Rules, view.Phones = say.Law(sheet.Law)+" "+say.CheckRules, v.voice.Phones(sheet)
	where := map[uuid.UUID]party.Whereabouts{}
	on := 0
	for _, x := range d.Party.OnIce(d.Now) {
		where[x.Person] = x
		if x.OnIce {
			on++
		}
	}
	last := map[uuid.UUID]*party.Fish{}
	for _, f := range d.Party.Fish {
		if f.Day == d.Today {
			last[f.Guest] = f
			if f.Kept && f.Guest == uuid.Nil {
				view.Unnamed = append(view.Unnamed, unnamedView{Text: fmt.Sprintf("%d kept %s at %s, no name yet", f.Count, f.Species, v.voice.Clock(f.When)), Fish: f.ID.String()})
			}
		}
	}
	for _, g := range todaysPeople(d) {
		p := personView{ID: g.ID.String(), Name: personName(d, g), Role: g.Role, Last: "no fish yet", Where: "not reported on the ice"}
		p.Kept, p.PutBack = countText(tally[g.ID].Kept), countText(tally[g.ID].PutBack)
		p.Left, p.Stop = tallied(d, sheet, g.ID)
		if sheet.AtLeast() {
			p.Kept = "at least " + p.Kept
		}
		if f := last[g.ID]; f != nil {
			p.Last = "last fish " + v.voice.Ago(f.When)
		}
		p.walks(v, g)
		for _, t := range v.watch.Watch.Turns {
			if t.Person == g.ID && t.Over {
				p.Due = v.voice.Turn(t)
			}
		}
		if x, told := where[g.ID]; told {
			view.whereabouts(v, &p, x)
		}
		view.Rows = append(view.Rows, p)
		view.Names = append(view.Names, nameView{p.ID, p.Name})
	}
	for _, g := range toCount(d) {
		view.Called = append(view.Called, nameView{g.ID.String(), personName(d, g)})
	}
	view.All = fmt.Sprintf("All %d", len(view.Called))
	view.Out = fmt.Sprintf("%d on the ice", on)
	rods := len(d.Party.RodsAt(d.Now))
	view.Lines = rodsWord(rods) + " in the water"
	view.headCount(d, v)
}

// whereabouts says where somebody is as last reported. Contradictions and people out of sight are loud.
func (view *peopleView) whereabouts(v *visit, p *personView, x party.Whereabouts) {
	p.OnIce, p.Where = x.OnIce, "ashore since "+v.voice.When(x.Since)
	if x.OnIce {
		p.Where = "on the ice since " + v.voice.When(x.Since)
	}
	switch {
	case x.Contradictory:
		p.Where = "reports contradict: counted as on the ice"
		view.Loud = append(view.Loud, p.Name+": reports contradict. Counted as on the ice: find out, then say it again.")
	case x.State == "unseen":
		p.Where = "out of sight since " + v.voice.When(x.Since)
		view.Loud = append(view.Loud, p.Name+" is out of sight since "+v.voice.When(x.Since)+". Whistle, count, look.")
	case x.State == "leaving":
		p.Where = "on the way in, alone, since " + v.voice.When(x.Since)
	}
}

func (view *peopleView) headCount(d desk.View, v *visit) {
	view.Count = "No head count today."
	c := lastCount(d)
	if moved := lastMove(d); !moved.IsZero() && (c == nil || c.When.Before(moved)) {
		view.Moved = "Moved " + v.voice.Clock(moved) + ", not counted since."
	}
	if c == nil {
		return
	}
	view.Count = fmt.Sprintf("Head count %s, %s: %d of %d.", v.voice.Clock(c.When), v.voice.Ago(c.When), len(c.Present), len(c.Present)+len(c.Missing))
	if g := d.Party.Guest(c.Sweep); g != nil {
		view.Count += " Sweep: " + personName(d, g) + "."
		view.Sweep = c.Sweep.String()
	}
	if len(c.Missing) > 0 {
		view.Missing = missingText(d, c.Missing)
	}
}

// missingText names who is missing.
func missingText(d desk.View, missing []uuid.UUID) string {
	var names []string
	for _, id := range missing {
		if g := d.Party.Guest(id); g != nil {
			names = append(names, personName(d, g))
		}
	}
	return "Missing: " + strings.Join(names, ", ")
}

// lastCount gives the last head count of today, or nil.
func lastCount(d desk.View) *party.HeadCount {
	n := len(d.Party.Counts)
	if n == 0 || journal.DayOf(d.Party.Counts[n-1].When, d.Lake.Zone) != d.Today {
		return nil
	}
	return &d.Party.Counts[n-1]
}

// lastMove gives when a line last came up today to be moved; zero when none did.
func lastMove(d desk.View) (at time.Time) {
	for _, s := range d.Party.Sits {
		if s.Day == d.Today && s.Why == "moved" && s.To.After(at) && !s.To.After(d.Now) {
			at = s.To
		}
	}
	return at
}

// toCount lists who must be found at a head count: everybody of today who is not surely ashore.
func toCount(d desk.View) []*party.Guest {
	ashore := map[uuid.UUID]bool{}
	for _, x := range d.Party.OnIce(d.Now) {
		ashore[x.Person] = !x.OnIce
	}
	var out []*party.Guest
	for _, g := range todaysPeople(d) {
		if !ashore[g.ID] {
			out = append(out, g)
		}
	}
	return out
}

// todaysPeople lists who is out today: those recorded for the day, guides first.
func todaysPeople(d desk.View) []*party.Guest {
	var guides, guests []*party.Guest
	for _, g := range d.Party.Guests {
		switch {
		case g.Day != d.Today:
		case g.Role == "guide" || g.Role == "scout":
			guides = append(guides, g)
		default:
			guests = append(guests, g)
		}
	}
	return append(guides, guests...)
}

// personName gives a name, or says that it was erased.
func personName(d desk.View, g *party.Guest) string {
	if n := d.Name(g.Name); n != "" {
		return n
	}
	return "(name erased)"
}

func countText(by map[string]int) string {
	n := 0
	for _, k := range by {
		n += k
	}
	return fmt.Sprint(n)
}

// postHeadCount records a roll call by name.
func (h *handler) postHeadCount(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	all := r.PostForm.Get("all") != ""
	here := map[string]bool{}
	for _, id := range r.PostForm["present"] {
		here[id] = true
	}
	body := &journal.HeadCount{Present: []uuid.UUID{}}
	if body.Sweep, err = uuidOf(r.PostForm, "sweep"); err != nil {
		return err
	}
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		if body.Sweep != uuid.Nil && d.Party.Guest(body.Sweep) == nil {
			return fault.New(fault.NotFound, "Choose somebody of today.", "the sweep is not on record")
		}
		for _, g := range toCount(d) {
			if all || here[g.ID.String()] {
				body.Present = append(body.Present, g.ID)
			} else {
				body.Missing = append(body.Missing, g.ID)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if len(body.Present)+len(body.Missing) == 0 {
		return fault.New(fault.Missing, "Record who is out first.", "nobody is recorded for today")
	}
	if err := h.Desk.Record(r.Context(), a, body); err != nil {
		return err
	}
	if r.PostForm.Get("back") == "/" {
		return back(w, r, done(a))
	}
	return back(w, r, "/people")
}

// postClaim records that a person, or everybody of the day, is on the ice or ashore.
func (h *handler) postClaim(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	person, err := uuidOf(r.PostForm, "person")
	if err != nil {
		return err
	}
	who := []uuid.UUID{person}
	if r.PostForm.Get("all") != "" {
		who = nil // everybody of the day
	}
	if err := h.Desk.Report(r.Context(), a, who, r.PostForm.Get("state")); err != nil {
		return err
	}
	if to := r.PostForm.Get("back"); to != "" {
		return back(w, r, localPath(to))
	}
	return back(w, r, "/people")
}
