package web

import (
	"cmp"
	"net/http"
	"net/url"
	"strconv"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// done is the page that shows an act as saved. It is only reached after the store has confirmed.
func done(a desk.Act) string { return "/?done=" + a.ID.String() }

// postLook records a look: one tap, the hole being made when none lies within the fix's error.
func (h *handler) postLook(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, ref, err := h.begin(r)
	if err != nil {
		return err
	}
	marks, known := lake.ParseMarks(r.PostForm.Get("marks"))
	if !known {
		return fault.New(fault.BadInput, "Press Nothing, Few or Many.", "the look says neither nothing nor few nor many")
	}
	sit, err := uuidOf(r.PostForm, "sit")
	if err != nil {
		return err
	}
	if r.PostForm.Get("small") != "" { // weak echoes seen while sitting: the small ones
		b := &journal.Look{Hole: ref.ID, Seconds: 30, Marks: marks.String(), Strong: "weak", Sit: sit}
		if ref.ID == uuid.Nil {
			return fault.New(fault.BadInput, "Go back and press it again.", "the form names no hole")
		}
		err = h.Desk.Record(r.Context(), a, b)
	} else {
		_, err = h.Desk.Look(r.Context(), desk.LookAct{Act: a, Hole: ref, Marks: marks, Sit: sit})
	}
	if err != nil {
		return err
	}
	return back(w, r, asked(a))
}

// begin reads a posted form's act and hole.
func (h *handler) begin(r *http.Request) (a desk.Act, ref desk.HoleRef, err error) {
	if a, err = ActIn(r); err != nil {
		return a, ref, err
	}
	ref, err = h.holeOf(r.Context(), r.PostForm)
	return a, ref, err
}

// postFish records a landed fish at once; whose it is may be said afterwards.
func (h *handler) postFish(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, ref, err := h.begin(r)
	if err != nil {
		return err
	}
	x := desk.FishAct{Act: a, Hole: ref.ID, Kept: r.PostForm.Get("kept") == "yes", Size: r.PostForm.Get("size"), Count: 1}
	if s := r.PostForm.Get("count"); s != "" {
		if x.Count, err = strconv.Atoi(s); err != nil || x.Count < 1 || x.Count > 5 {
			return fault.New(fault.BadInput, "Press once for one fish, hold for five.", "%q is no number of fish", s)
		}
	}
	if x.Guest, err = uuidOf(r.PostForm, "guest"); err != nil {
		return err
	}
	if x.Hole == uuid.Nil && ref.Place != nil && ref.Place.Known {
		if _, x.Hole, err = h.Desk.Standing(r.Context()); err != nil {
			return err
		}
	}
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		if t := d.Party.Trip(d.Today); t != nil {
			x.Species = t.Target // as the strip above the keys says
		}
		for _, s := range d.Party.RodsAt(d.Now) {
			if s.Hole == x.Hole && x.Hole != uuid.Nil {
				x.Rod, x.Species = s.Rod, cmp.Or(d.Party.TargetAt(s, d.Now), x.Species)
			}
		}
		if x.Guest == uuid.Nil && x.Hole != uuid.Nil { // a fish goes to whoever sits at its hole
			x.Guest = seatedAt(d, x.Hole)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if err := h.Desk.Fish(r.Context(), x); err != nil {
		return err
	}
	if to := r.PostForm.Get("back"); to != "" {
		return back(w, r, localPath(to))
	}
	return back(w, r, done(a))
}

// seatedAt gives the one guest whose seat a hole is; zero when there is none or more than one.
func seatedAt(d desk.View, hole uuid.UUID) uuid.UUID {
	var found uuid.UUID
	for _, g := range d.Party.Guests {
		if g.Day == d.Today && g.Seat == hole {
			if found != uuid.Nil {
				return uuid.Nil
			}
			found = g.ID
		}
	}
	return found
}

// postFishName gives a kept fish to a guest.
func (h *handler) postFishName(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	fish, err := uuidOf(r.PostForm, "fish")
	if err != nil {
		return err
	}
	guest, err := uuidOf(r.PostForm, "guest")
	if err != nil {
		return err
	}
	if guest == uuid.Nil {
		return fault.New(fault.BadInput, "Press a name.", "nobody was named")
	}
	if err := h.Desk.NameFish(r.Context(), a, fish, guest, "named"); err != nil {
		return err
	}
	if r.PostForm.Get("back") == "/" {
		return back(w, r, done(a)) // Now says how near to the limit it brings the guest
	}
	return back(w, r, localPath(r.PostForm.Get("back")))
}

// postSit starts a sit of the next idle rod here. When all rods are in the water, the one that was advised to move here
// comes over, else the one that has sat longest.
func (h *handler) postSit(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, ref, err := h.begin(r)
	if err != nil {
		return err
	}
	step, err := h.Desk.Next(r.Context(), nil)
	if err != nil {
		step = advise.Step{} // without advice the rod that has sat longest comes over
	}
	here := ref.ID
	if here == uuid.Nil {
		if _, here, err = h.Desk.Standing(r.Context()); err != nil {
			return err
		}
	}
	rods, target := []int{1}, ""
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		if t := d.Party.Trip(d.Today); t != nil {
			target = t.Target
		}
		rods = rodsToSit(d, step, here)
		return nil
	})
	if err != nil {
		return err
	}
	if s := r.PostForm.Get("rod"); s != "" {
		rod, err := strconv.Atoi(s)
		if err != nil || rod < 1 || rod > 99 {
			return fault.New(fault.BadInput, "Choose a rod from the list.", "%q is no rod", s)
		}
		rods = []int{rod}
	}
	if err := h.Desk.Bring(r.Context(), a, ref, rods, target); err != nil {
		return err
	}
	return back(w, r, asked(a))
}

// rodsToSit chooses the rods that a press of Sit brings to a hole: all that were advised to come over when the advice is
// to bring the party here, else one.
func rodsToSit(d desk.View, step advise.Step, hole uuid.UUID) []int {
	var over []int
	for _, s := range step.Rods {
		if step.Do == advise.Move && s.Do == advise.Move && s.To == hole && hole != uuid.Nil {
			over = append(over, s.Rod)
		}
	}
	if len(over) > 0 {
		return over
	}
	return []int{rodToSit(d, step, hole)}
}

// rodToSit chooses the rod that a sit at a hole begins with.
func rodToSit(d desk.View, step advise.Step, hole uuid.UUID) (rod int) {
	rods := 1
	if t := d.Party.Trip(d.Today); t != nil {
		rods = max(t.Rods, 1)
	}
	sits := d.Party.RodsAt(d.Now)
	busy := map[int]bool{}
	for _, s := range sits {
		busy[s.Rod] = true
	}
	for rod = 1; rod <= rods; rod++ {
		if !busy[rod] {
			return rod
		}
	}
	for _, s := range step.Rods {
		if s.Do == advise.Move && s.To == hole && hole != uuid.Nil {
			return s.Rod
		}
	}
	longest := sits[0]
	for _, s := range sits {
		if s.From.Before(longest.From) {
			longest = s
		}
	}
	return longest.Rod
}

// postUp ends a sit.
func (h *handler) postUp(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	sit, err := uuidOf(r.PostForm, "sit")
	if err != nil {
		return err
	}
	if err := h.Desk.Up(r.Context(), a, sit, "moved"); err != nil {
		return err
	}
	return back(w, r, asked(a))
}

// postUndo takes the last act back, or the one that the form names.
func (h *handler) postUndo(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	act, err := uuidOf(r.PostForm, "act")
	if err != nil {
		return err
	}
	var undone *journal.Fact
	if act == uuid.Nil {
		undone, err = h.Desk.Undo(r.Context(), a)
	} else {
		undone, err = h.Desk.UndoThis(r.Context(), a, act)
	}
	if err != nil {
		return err
	}
	if undone == nil {
		return back(w, r, "/?undone=nothing")
	}
	return back(w, r, done(a))
}

// lengthOf reads an optional length in the units that the phone shows, or as typed with its own unit.
func lengthOf(form url.Values, key string, v *visit, si, us quantity.Length) (l quantity.Length, told bool, err error) {
	l, _, told, err = typedLength(form, key, v, si, us)
	return l, told, err
}

// typedLength is lengthOf with the unit of the number, the phone's own when none was typed.
func typedLength(form url.Values, key string, v *visit, si, us quantity.Length) (l quantity.Length, typed string, told bool, err error) {
	s := form.Get(key)
	if s == "" {
		return 0, "", false, nil
	}
	unit, word := si, map[quantity.Length]string{quantity.Centimetre: "cm", quantity.Metre: "m", quantity.Inch: "in", quantity.Foot: "ft"}
	if v.settings.Units == quantity.US {
		unit = us
	}
	l, typed, err = quantity.ParseLength(s, unit)
	if typed == "" {
		typed = word[unit]
	}
	if err != nil {
		return 0, "", false, fault.Wrap(err, fault.BadInput, "Write a number, with its unit when it is another one: 41, 16 in.", "%s: %q is no length", classWord(key), s)
	}
	return l, typed, true, nil
}

// postIce records an ice reading: the thickness, and what else has changed.
func (h *handler) postIce(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, ref, err := h.begin(r)
	if err != nil {
		return err
	}
	total, typed, told, err := typedLength(r.PostForm, "total", v, quantity.Centimetre, quantity.Inch)
	if err != nil {
		return err
	}
	if !told {
		return fault.New(fault.BadInput, "Enter the thickness first.", "the reading has no thickness")
	}
	x := desk.IceAct{Act: a, Hole: ref, Reading: journal.Ice{Total: total.Millimetres(), Unit: typed}}
	for key, to := range map[string]**int64{"white": &x.Reading.White, "snow": &x.Reading.Snow, "water": &x.Reading.Water, "solid": &x.Reading.Solid} {
		l, told, err := lengthOf(r.PostForm, key, v, quantity.Centimetre, quantity.Inch)
		if err != nil {
			return err
		}
		if told {
			*to = journal.MM(l)
		}
	}
	for key, to := range map[string]*bool{"slush": &x.Reading.Slush, "layered": &x.Reading.Layered, "grey": &x.Reading.Grey, "rotten": &x.Reading.Rotten, "current": &x.Reading.Current} {
		*to = r.PostForm.Get(key) != ""
	}
	x.Reading.Crack = r.PostForm.Get("crack")
	if _, err := h.Desk.ReadIce(r.Context(), x); err != nil {
		return err
	}
	return back(w, r, asked(a))
}

// postHazard records a danger at the place that was touched on the map, or here.
func (h *handler) postHazard(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	at, err := localOf(r.PostForm)
	if err != nil {
		return err
	}
	if at == nil {
		p, err := h.placeOf(r.Context(), r.PostForm)
		if err != nil {
			return err
		}
		if !p.Known {
			return fault.New(fault.BadInput, "Touch the place on the map.", "there is no fix to put the hazard at")
		}
		at = &p.At
	}
	const buffer = 25 * quantity.Metre // about a point reported by hand; common practice, no source
	body := &journal.Hazard{What: r.PostForm.Get("what"), Shape: "point", Radius: buffer.Millimetres(), Report: "present", By: "guide"}
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		if !d.Lake.Known {
			return fault.New(fault.Missing, "Import its outline.", "no lake is recorded yet")
		}
		body.Points = []journal.Point{*journal.PointOf(d.Lake.Frame.Position(*at))}
		return nil
	})
	if err != nil {
		return err
	}
	if err := h.Desk.Record(r.Context(), a, body); err != nil {
		return err
	}
	return back(w, r, "/map?done="+a.ID.String())
}
