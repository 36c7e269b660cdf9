package web

import (
	"net/http"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/care"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/tally"
)

// tallyView is the ledger page of a day.
type tallyView struct {
	Law      string
	InForce  bool
	Phones   string
	Unnamed  []string
	Notes    []string
	Total    string
	People   []tallyPerson
	Names    []nameView
	Species  []string
	Moves    []string
	Shares   string // what was handed out; "" for nothing
	Released []string
	Leave    []string // why fish put back are a reason to leave, or a plan is barred
	CanShare bool
}

// tallyPerson is one person's ledger.
type tallyPerson struct {
	ID, Name string
	Rows     []tallyRow
	Fish     []tallyFish
	Ask      bool // nobody asked what was carried over
}

// tallyRow is a person's count of one species.
type tallyRow struct {
	Species, Kept, PutBack string
	Left, Room, Held       string
	Stop                   bool
}

// tallyFish is one fish with its trace.
type tallyFish struct {
	ID, Text, Flag string
	Kept           bool
	Trace          []string
}

// rowOf puts a row into words.
func rowOf(r tally.Row, s *tally.Sheet) tallyRow {
	out := tallyRow{Species: r.Species, Kept: say.KeptCount(r.Kept, s), PutBack: strconv.Itoa(r.PutBack), Left: say.Left(r, s.Law), Room: say.Room(r, s)}
	out.Stop = r.Limited && r.Left <= 0
	if r.Held != r.Kept || r.Asked {
		out.Held = strconv.Itoa(r.Held) + " held"
	}
	return out
}

// shown tells whether a row has something to say.
func shown(r tally.Row, s *tally.Sheet) bool {
	return r.Kept+r.PutBack+r.Held > 0 || r.Limited && s.Kept()[r.Species] > 0
}

// tallyPage shows the ledger.
func (h *handler) tally(w http.ResponseWriter, r *http.Request, v *visit) error {
	var view tallyView
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		view = ledgerView(d, v.voice, d.Sheet(d.Today, d.Now))
		for _, b := range care.Count(d.Released(v.watch.Air, v.watch.AirTold)) {
			view.Released = append(view.Released, v.voice.Band(b))
		}
		view.Leave = released(d, v)
		return nil
	})
	if err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "Tally", tallyPage(view))
}

// ledgerView puts a sheet into words.
func ledgerView(d desk.View, voice say.Voice, s *tally.Sheet) tallyView {
	view := tallyView{Law: say.Law(s.Law), InForce: s.Law.Verified(), Phones: voice.Phones(s), CanShare: s.Law.Verified() && len(s.Phones) > 0}
	for _, species := range sorted(s.Kept()) {
		view.Total += strconv.Itoa(s.Kept()[species]) + " " + species + ", "
	}
	view.Total = strings.TrimSuffix(view.Total, ", ")
	for _, species := range sorted(s.Unnamed) {
		view.Unnamed = append(view.Unnamed, strconv.Itoa(s.Unnamed[species])+" kept "+species+", no name yet: counted against everybody")
	}
	for _, n := range s.Notes {
		view.Notes = append(view.Notes, say.Noted(d.PersonName(n.Person), n, s.Law))
	}
	for _, p := range s.People {
		x := tallyPerson{ID: p.ID.String(), Name: d.PersonName(p.ID)}
		view.Names = append(view.Names, nameView{x.ID, x.Name})
		for _, r := range s.Rows {
			if r.Person != p.ID {
				continue
			}
			if !has(view.Species, r.Species) {
				view.Species = append(view.Species, r.Species)
			}
			x.Ask = x.Ask || !r.Asked && len(s.Law.Versions) > 0
			if shown(r, s) {
				x.Rows = append(x.Rows, rowOf(r, s))
			}
		}
		x.Fish = fishOf(d, voice, s, p.ID)
		view.People = append(view.People, x)
	}
	for _, m := range d.Ledger().Moves {
		if m.Day == s.Day && !m.When.After(s.At) {
			view.Moves = append(view.Moves, voice.Clock(m.When)+" "+say.Moved(m, d.PersonName(m.Person), d.PersonName(m.Other)))
		}
	}
	if s.Shares != nil {
		view.Shares = "What was left was handed out at " + voice.Clock(s.Shares.When) + ". This phone keeps to its share."
	}
	return view
}

// fishOf lists a person's fish of the day, the newest first.
func fishOf(d desk.View, voice say.Voice, s *tally.Sheet, person uuid.UUID) (out []tallyFish) {
	all := s.Fish()
	for i := len(all) - 1; i >= 0; i-- {
		f := all[i]
		if f.Person != person || !f.Kept && !f.Unkept() && len(f.Changes) == 0 {
			continue
		}
		x := tallyFish{ID: f.ID.String(), Kept: f.Kept, Flag: f.Flag, Text: voice.Clock(f.When) + " " + strconv.Itoa(f.Count) + " " + f.Species}
		if f.Length > 0 {
			x.Text += " " + voice.Units.FishText(f.Length)
		}
		if !f.Kept {
			x.Text += ", put back"
		}
		for what, who := range map[string]uuid.UUID{", hooked by ": f.Hooked, ", landed by ": f.Landed} {
			if n := d.PersonName(who); who != uuid.Nil && n != "" {
				x.Text += what + n
			}
		}
		for _, c := range f.Changes {
			x.Trace = append(x.Trace, voice.Changed(c, d.PersonName(c.To)))
		}
		out = append(out, x)
	}
	return out
}

func has(all []string, x string) bool {
	for _, y := range all {
		if x == y {
			return true
		}
	}
	return false
}

// sorted gives the keys of counts in order.
func sorted(counts map[string]int) []string {
	var out []string
	for k := range counts {
		i := 0
		for i < len(out) && out[i] < k {
			i++
		}
		out = append(out[:i], append([]string{k}, out[i:]...)...)
	}
	return out
}

// tallied is what People and Now show of the ledger: the person's day target in few words.
func tallied(d desk.View, s *tally.Sheet, person uuid.UUID) (left string, stop bool) {
	var parts []string
	for _, r := range s.Rows {
		if r.Person != person || !shown(r, s) {
			continue
		}
		x := rowOf(r, s)
		if x.Left == "" {
			continue
		}
		parts = append(parts, r.Species+": "+x.Left)
		stop = stop || x.Stop
	}
	return strings.Join(parts, "; "), stop
}

// postHold records fish carried over, given, eaten or cleaned.
func (h *handler) postHold(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	x := desk.HoldAct{Act: a, Words: r.PostForm.Get("note"), Possession: journal.Possession{What: r.PostForm.Get("what"), Species: r.PostForm.Get("species")}}
	if x.Person, err = uuidOf(r.PostForm, "person"); err != nil {
		return err
	}
	if x.Other, err = uuidOf(r.PostForm, "other"); err != nil {
		return err
	}
	for key, to := range map[string]*int64{"count": &x.Count, "packs": &x.Packs} {
		s := strings.TrimSpace(r.PostForm.Get(key))
		if s == "" && key == "packs" {
			continue
		}
		if *to, err = strconv.ParseInt(s, 10, 32); err != nil || *to < 0 {
			return fault.New(fault.BadInput, "Write a whole number: 3.", "%.20q is no number of %s", s, map[string]string{"count": "fish", "packs": "packs"}[key])
		}
	}
	if err := h.Desk.Hold(r.Context(), x); err != nil {
		return err
	}
	return back(w, r, "/tally")
}

// postFishCorrect gives a fish to somebody else, or takes it off the tally; both need a reason.
func (h *handler) postFishCorrect(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	fish, err := uuidOf(r.PostForm, "fish")
	if err != nil {
		return err
	}
	why := r.PostForm.Get("why")
	switch to := r.PostForm.Get("to"); to {
	case "length":
		l, told, bad := lengthOf(r.PostForm, "length", v, quantity.Centimetre, quantity.Inch)
		switch {
		case bad != nil:
			return bad
		case !told:
			return fault.New(fault.BadInput, "Write how long it is, such as 33.", "no length is told")
		}
		err = h.Desk.Measure(r.Context(), a, fish, l)
	case "slip", "put_back":
		err = h.Desk.Unkeep(r.Context(), a, fish, to == "slip", why)
	default:
		var guest uuid.UUID
		if guest, err = uuidOf(r.PostForm, "to"); err == nil {
			if guest == uuid.Nil {
				return fault.New(fault.BadInput, "Choose whose it is, or that it is not kept.", "the correction says nothing")
			}
			err = h.Desk.Reassign(r.Context(), a, fish, guest, why)
		}
	}
	if err != nil {
		return err
	}
	return back(w, r, "/tally")
}

// postPortion hands out what is left among the phones that wrote today.
func (h *handler) postPortion(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	var others []uuid.UUID
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		for _, p := range d.Sheet(d.Today, d.Now).Phones {
			others = append(others, p.Journal)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if err := h.Desk.HandOut(r.Context(), a, others); err != nil {
		return err
	}
	return back(w, r, "/tally")
}

// keptWarning says on Now what must be known after a fish was kept, named or corrected; "" when nothing must.
func keptWarning(d desk.View, f *journal.Fact) string {
	id := f.Entry.ID
	if b, ok := f.Body.(*journal.Amend); ok {
		id = b.Target
	}
	x := d.Ledger().Find(id)
	if x == nil || !f.Counts() || !x.Kept || x.Person == uuid.Nil {
		return ""
	}
	s := d.Sheet(x.Day, d.Now)
	row, ok := s.Of(x.Person, x.Species)
	if !ok {
		return ""
	}
	name := "" // stands beside it already
	if id != f.Entry.ID {
		name = d.PersonName(x.Person)
	}
	if x.Flag != "" && (!row.Limited || row.Left >= 0) {
		return Sentence(strings.TrimPrefix(name+": "+x.Flag, ": ")) + " Flagged."
	}
	if out := say.Warning(name, row, s.Law); out != "" {
		return Sentence(out)
	}
	return ""
}

// leftOnKey says on a guest's key what is left of the limit that a fish counts against, or what was kept.
func leftOnKey(d desk.View, s *tally.Sheet, guest, fish uuid.UUID) string {
	species := "perch"
	if f := d.Ledger().Find(fish); f != nil {
		species = f.Species
	}
	row, _ := s.Of(guest, species)
	switch {
	case !row.Limited || !s.Law.Verified() && row.Left+s.Unnamed[species] > 0:
		return say.KeptCount(row.Kept, s) + " kept"
	case row.Left+s.Unnamed[species] <= 0: // the fish itself has no name yet, and counts against everybody
		return "stop: limit"
	}
	return strconv.Itoa(row.Left+s.Unnamed[species]) + " left"
}

// standing says in one line on Now who may keep no more, what stands against the ledger until a person resolves it, and when fish put back are
// a reason to leave; the tally has it at length. "" when nothing is to be said.
func standing(d desk.View, v *visit) string {
	return sentenceCase(strings.Join(append(lawStands(d), ledgerStands(d, v)...), "; "))
}

// ledgerStands says who may keep no more, what stands against the ledger, and when fish put back are a reason to leave.
func ledgerStands(d desk.View, v *visit) (out []string) {
	s := d.Sheet(d.Today, d.Now)
	for _, species := range sorted(s.Kept()) {
		var full []string
		for _, r := range s.Rows {
			if p := d.Party.Guest(r.Person); r.Species == species && r.Limited && r.Left <= 0 && p != nil && p.Role == "guest" {
				first, _, _ := strings.Cut(d.PersonName(r.Person), " ")
				full = append(full, first)
			}
		}
		if len(full) > 3 {
			full = append(full[:2], strconv.Itoa(len(full)-2)+" more")
		}
		if len(full) > 0 {
			out = append(out, "no more "+species+" for "+strings.Join(full, ", "))
		}
	}
	n := 0
	for _, x := range s.Notes {
		if x.Code != "unmeasured" {
			n++
		}
	}
	if n > 0 {
		out = append(out, strconv.Itoa(n)+" against the rules")
	}
	if b, barred := d.Sorting(); barred && b.Depth > 0 {
		out = append(out, "no sorting at "+v.voice.Units.DepthText(b.Depth))
	} else if barred {
		out = append(out, "no sorting: depth not known")
	}
	if t, leave := care.Leave(d.Released(v.watch.Air, v.watch.AirTold), d.Now); leave {
		out = append(out, strconv.Itoa(t.Count)+" put back from "+v.voice.Units.DepthText(t.Deep)+": a reason to leave")
	}
	return out
}

// lawStands says in a few words what must be settled before a line drops, and what the law has against the day as it goes on.
func lawStands(d desk.View) (out []string) {
	unseen, rest := []string{}, 0
	for _, x := range d.Lawful() {
		first, _, _ := strings.Cut(d.PersonName(x.Person), " ")
		switch {
		case x.Code == "licence":
			unseen = append(unseen, first)
		case x.Before && x.Code != "tick":
			out = append(out, strings.TrimSpace(first+" "+x.Text))
		default:
			rest++
		}
	}
	if len(unseen) > 3 {
		unseen = append(unseen[:2], strconv.Itoa(len(unseen)-2)+" more")
	}
	if len(unseen) > 0 {
		out = append([]string{"licence not seen: " + strings.Join(unseen, ", ")}, out...)
	}
	if rest > 0 {
		out = append(out, say.Few(rest, "duty of the rule book open", "duties of the rule book open"))
	}
	return out
}

// released says at length when fish that were put back are a reason to leave, and when the day's plan is barred for their sake.
func released(d desk.View, v *visit) (out []string) {
	if b, barred := d.Sorting(); barred {
		out = append(out, v.voice.Sorting(b))
	}
	if t, leave := care.Leave(d.Released(v.watch.Air, v.watch.AirTold), d.Now); leave {
		out = append(out, v.voice.Toll(t))
	}
	return out
}

// releaseWarning says what is expected of a fish that was just put back where many die; "" where few do.
func releaseWarning(d desk.View, v *visit, f *journal.Fact) string {
	x, fate, ok := d.Release(f.Entry.ID, v.watch.Air, v.watch.AirTold)
	if !ok || !f.Counts() || x.Depth < care.SortFrom && fate.Verdict != care.CountIt {
		return ""
	}
	return v.voice.Fate(x, fate)
}
