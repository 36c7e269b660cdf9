package web

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/sounder"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/lake"
	"icehand/internal/trade/party"
)

// What the parts of the strip above the keys lead to: the holes of today, the place and depth of one, the rods.

type holesView struct{ Rows []holeRow }

// holeRow is one hole of today.
type holeRow struct{ Name, Href, Says, Place string }

// holes lists the holes of today, so that the next act can be told to another one than where the phone stands.
func (h *handler) holes(w http.ResponseWriter, r *http.Request, v *visit) error {
	var view holesView
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		last := map[uuid.UUID]*lake.Look{}
		for _, l := range d.Lake.Looks {
			last[l.Hole] = l
		}
		all := d.Lake.HolesOn(d.Today)
		for i := len(all) - 1; i >= 0; i-- {
			o := all[i]
			if o.Label == "retracted" {
				continue
			}
			row := holeRow{Name: say.HoleName(o, d.Today), Href: "/?hole=" + o.ID.String()}
			parts := []string{"drilled " + v.voice.Clock(o.Drilled)}
			if o.Depth > 0 {
				depth, _ := sounder.Depth(d.Lake, o)
				parts = append(parts, v.voice.Units.DepthText(depth))
			}
			if l := last[o.ID]; l != nil {
				parts = append(parts, map[lake.Marks]string{lake.None: "nothing seen ", lake.Few: "few ", lake.Many: "many "}[l.Marks]+v.voice.Ago(l.When))
			}
			if !o.Placed {
				row.Place = "/place?hole=" + o.ID.String()
				parts = append(parts, "no place: its looks move no odds")
			}
			row.Says = strings.Join(parts, ", ")
			view.Rows = append(view.Rows, row)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "Holes", holesPage(view))
}

// holeNamed reads the hole that an address names.
func holeNamed(r *http.Request, d desk.View) (*lake.Hole, error) {
	id, err := uuid.Parse(r.URL.Query().Get("hole"))
	if err != nil {
		return nil, fault.New(fault.BadInput, "Choose a hole from the list.", "the address names no hole")
	}
	o := d.Lake.Hole(id)
	if o == nil || o.Label == "retracted" {
		return nil, fault.New(fault.NotFound, "Choose a hole from the list.", "that hole is not on record")
	}
	return o, nil
}

// placedView is the page that places a hole by paces and bearing.
type placedView struct {
	Title   string
	Trouble string
	Sent    []field
	Froms   []optionLink
	Paces   []optionLink
	Points  []pointKey // the eight points round the hole to pace from, row by row; the middle one is empty
	Middle  string
}

type optionLink struct {
	Word, Href string
	Chosen     bool
}

type pointKey struct {
	Word   string
	Fields []field
}

// pacesOffered are the counts that one tap chooses.
var pacesOffered = []int{5, 10, 20, 30, 50, 80}

// compassRose lists the points as they lie round a place, row by row.
var compassRose = []string{"NW", "N", "NE", "W", "", "E", "SW", "S", "SE"}

// placeForm places a hole that was saved without a fix.
func (h *handler) placeForm(w http.ResponseWriter, r *http.Request, v *visit) error {
	var view placedView
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		o, err := holeNamed(r, d)
		if err != nil {
			return err
		}
		name, id := say.HoleName(o, d.Today), o.ID.String()
		view.Title = "Where is hole " + name + "?"
		if o.Placed {
			view.Trouble = "Hole " + name + " has a place. Undo takes back a place that was given by hand."
			return nil
		}
		if _, sent := sentTo(d, o.ID); sent {
			view.Sent = []field{{"hole", id}, {"sent", "yes"}}
		}
		from := placedBefore(d, o)
		if len(from) == 0 {
			view.Trouble = "No hole of that day with a place to pace from."
			return nil
		}
		chosen, paces := from[0], usualPaces
		for _, f := range from {
			if f.ID.String() == r.URL.Query().Get("from") {
				chosen = f
			}
		}
		if n, err := strconv.Atoi(r.URL.Query().Get("paces")); err == nil && slices.Contains(pacesOffered, n) {
			paces = n
		}
		address := func(from *lake.Hole, paces int) string {
			return fmt.Sprintf("/place?hole=%s&from=%s&paces=%d", id, from.ID, paces)
		}
		for _, f := range from[:min(6, len(from))] {
			view.Froms = append(view.Froms, optionLink{say.HoleName(f, d.Today), address(f, paces), f.ID == chosen.ID})
		}
		for _, n := range pacesOffered {
			view.Paces = append(view.Paces, optionLink{strconv.Itoa(n), address(chosen, n), n == paces})
		}
		for _, p := range compassRose {
			view.Points = append(view.Points, pointKey{p, []field{{"hole", id}, {"from", chosen.ID.String()}, {"paces", strconv.Itoa(paces)}, {"toward", p}}})
		}
		view.Middle = fmt.Sprintf("%d paces from %s", paces, say.HoleName(chosen, d.Today))
		return nil
	})
	if err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "Place", placePage(view))
}

// postPlace gives a hole the place that was told by hand.
func (h *handler) postPlace(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	hole, err := uuidOf(r.PostForm, "hole")
	if err != nil {
		return err
	}
	if r.PostForm.Get("sent") != "" {
		err = h.placeAsSent(r, a, hole)
	} else {
		err = h.placeByPaces(r, a, hole)
	}
	if err != nil {
		return err
	}
	return back(w, r, done(a))
}

func (h *handler) placeAsSent(r *http.Request, a desk.Act, hole uuid.UUID) error {
	var at geo.Local
	var sent bool
	if err := h.Desk.Read(r.Context(), func(d desk.View) error { at, sent = sentTo(d, hole); return nil }); err != nil {
		return err
	}
	if !sent {
		return fault.New(fault.Missing, "Place it by paces from another hole.", "no advice led there")
	}
	return h.Desk.PlaceHole(r.Context(), a, hole, at)
}

func (h *handler) placeByPaces(r *http.Request, a desk.Act, hole uuid.UUID) error {
	from, err := uuidOf(r.PostForm, "from")
	if err != nil {
		return err
	}
	paces, err := strconv.Atoi(r.PostForm.Get("paces"))
	if err != nil {
		return fault.New(fault.BadInput, "Choose the paces again.", "%q is no number of paces", r.PostForm.Get("paces"))
	}
	toward, known := quantity.ParseCompass(r.PostForm.Get("toward"))
	if !known {
		return fault.New(fault.BadInput, "Press a point of the compass.", "%q is no point of the compass", r.PostForm.Get("toward"))
	}
	return h.Desk.PaceHole(r.Context(), a, hole, from, paces, toward)
}

// depthView is the page that tells a hole's depth.
type depthView struct {
	Title, Says, Unit, ID string
	True, Sees            string // what the sounder's figure stands for, and what it sees here; empty when not told
	Sounder               sounderView
	Keys                  []keyView
}

// depthForm asks for the depth at a hole: one tap about what the chart or the last measure says, or typed.
func (h *handler) depthForm(w http.ResponseWriter, r *http.Request, v *visit) error {
	view := depthView{Unit: "m", Says: "No depth on record here."}
	step := quantity.Metre / 10
	if v.settings.Units == quantity.US {
		view.Unit, step = "ft", quantity.Foot
	}
	var o lake.Hole
	var instrument sounder.Sounder
	var depth quantity.Length
	var told, corrected bool
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		x, err := holeNamed(r, d)
		if err != nil {
			return err
		}
		o = *x
		view.Title, view.ID = "Depth at hole "+say.HoleName(x, d.Today), x.ID.String()
		instrument, told = sounder.At(d.Lake, o.Drilled)
		depth, corrected = sounder.Depth(d.Lake, &o)
		now, tell := sounder.At(d.Lake, d.Now)
		view.Sounder = v.sounder(now, tell)
		return nil
	})
	if err != nil {
		return err
	}
	about := 10 * quantity.Metre
	if o.Depth > 0 {
		about, view.Says = o.Depth, "On record: "+v.voice.Units.DepthText(o.Depth)+"."
	} else if o.Placed {
		if z, err := h.Desk.DepthAt(r.Context(), o.At); err == nil && z.Known {
			about = z.Mean
			view.Says = fmt.Sprintf("By the chart and the holes about it %s, give or take %s.", v.voice.Units.DepthText(z.Mean), v.voice.Units.DepthText(z.Spread))
		}
	}
	if corrected {
		view.True = v.voice.TrueDepth(depth, instrument)
	}
	if told {
		slope := math.NaN()
		if o.Placed {
			slope = h.Desk.SlopeAt(r.Context(), o.At)
		}
		if depth <= 0 {
			depth = about
		}
		if s, ok := instrument.Sees(depth, slope); ok {
			view.Sees = v.voice.Sight(s)
		}
	}
	middle := max(math.Round(float64(about/step)), 5)
	for i := -4.0; i <= 4; i++ {
		text := fmt.Sprintf("%.1f m", (middle+i)/10)
		if view.Unit == "ft" {
			text = fmt.Sprintf("%.0f ft", middle+i)
		}
		view.Keys = append(view.Keys, keyView{Word: text, Action: "/depth", Fields: []field{{"hole", view.ID}, {"depth", text}}})
	}
	return h.show(w, r, v, http.StatusOK, "Depth", depthPage(view))
}

// postDepth records or corrects a hole's depth.
func (h *handler) postDepth(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	hole, err := uuidOf(r.PostForm, "hole")
	if err != nil {
		return err
	}
	depth, typed, told, err := typedLength(r.PostForm, "depth", v, quantity.Metre, quantity.Foot)
	if err != nil {
		return err
	}
	if !told {
		return fault.New(fault.BadInput, "Enter the depth.", "no depth was told")
	}
	if err := h.Desk.DeepenHole(r.Context(), a, hole, depth, typed); err != nil {
		return err
	}
	return back(w, r, done(a))
}

// rodsView is the page of the rods: who sits where, and what they are after.
type rodsView struct {
	Rows    []rodRow
	Target  string
	Targets []string
	Aim     string // in words, with the guest's name
	Aims    []aimKey
}

// aimKey sets the aim of the day.
type aimKey struct {
	Word   string
	Fields []field
	Chosen bool
}

type rodRow struct {
	Name, Says string
	Sit        []field // ends its sit; nil when it has none
	Here       []field // sits down here
}

// rods lists every rod of the party with where it sits.
func (h *handler) rods(w http.ResponseWriter, r *http.Request, v *visit) error {
	var view rodsView
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		n, target := 1, "perch"
		if t := d.Party.Trip(d.Today); t != nil {
			n = max(n, t.Rods)
			if t.Target != "" {
				target = t.Target
			}
		}
		sits := map[int]*party.Sit{}
		for _, s := range d.Party.RodsAt(d.Now) {
			sits[s.Rod], n = s, max(n, s.Rod)
		}
		for rod := 1; rod <= n; rod++ {
			row := rodRow{Name: fmt.Sprintf("Rod %d", rod), Says: "not in the water", Here: []field{{"rod", strconv.Itoa(rod)}}}
			if s := sits[rod]; s != nil {
				row.Sit = []field{{"sit", s.ID.String()}}
				row.Says = "without a hole"
				if o := d.Lake.Hole(s.Hole); o != nil {
					row.Says = "at " + say.HoleName(o, d.Today)
				}
				if g := d.Party.Guest(s.Guest); g != nil {
					row.Says += ", " + personName(d, g)
				}
				row.Says += ", since " + v.voice.When(s.From) + ", " + say.Span(d.Now.Sub(s.From))
			}
			view.Rows = append(view.Rows, row)
		}
		view.Target, view.Targets = target, targets(d, target)
		view.Aim, view.Aims = aimKeys(d)
		return nil
	})
	if err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "Rods", rodsPage(view))
}

// aimKeys lists the aims, a first fish by guest, and says the one in force.
func aimKeys(d desk.View) (now string, keys []aimKey) {
	aim, who := "", uuid.Nil
	if t := d.Party.Trip(d.Today); t != nil {
		aim, who = t.Aim, t.AimFor
	}
	now = "not told, so numbers"
	if w := say.AimWord(aim); w != "" {
		now = w
	}
	if g := d.Party.Guest(who); g != nil {
		now += " for " + personName(d, g)
	}
	for _, code := range say.Aims() {
		keys = append(keys, aimKey{say.AimWord(code), []field{{"aim", code}}, aim == code && who == uuid.Nil})
	}
	for _, g := range todaysPeople(d) {
		if g.Role == "guest" {
			keys = append(keys, aimKey{"first fish: " + personName(d, g), []field{{"aim", "first_fish"}, {"for", g.ID.String()}}, who == g.ID})
		}
	}
	return now, keys
}

// postAim sets what the day is about.
func (h *handler) postAim(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	who, err := uuidOf(r.PostForm, "for")
	if err != nil {
		return err
	}
	if err := h.Desk.SetAim(r.Context(), a, r.PostForm.Get("aim"), who); err != nil {
		return err
	}
	return back(w, r, "/rods#aim")
}

// targets lists the species on record, so that the target is one tap.
func targets(d desk.View, now string) []string {
	seen := map[string]bool{now: true}
	for _, f := range d.Party.Fish {
		seen[f.Species] = true
	}
	for _, t := range d.Party.Trips {
		seen[t.Target] = true
	}
	delete(seen, "")
	var out []string
	for s := range seen {
		out = append(out, s)
	}
	slices.Sort(out)
	return out[:min(6, len(out))]
}

// longestWord bounds a species as it is typed.
const longestWord = 40

// postTarget tells what the party is after: the day's trip with another target.
func (h *handler) postTarget(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	target := strings.ToLower(strings.TrimSpace(r.PostForm.Get("target")))
	if target == "" || len(target) > longestWord {
		return fault.New(fault.BadInput, "Name a species.", "no target was told")
	}
	if err := h.Desk.SetTarget(r.Context(), a, target); err != nil {
		return err
	}
	return back(w, r, done(a))
}
