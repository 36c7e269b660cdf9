package web

import (
	"fmt"
	"net/http"
	"time"

	"github.com/google/uuid"

	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
)

// afterAct shows on Now what was just saved, looked up in the journal, and the kept fish that have no name yet.
func (h *handler) afterAct(r *http.Request, v *visit, view *nowView) error {
	if r.URL.Query().Get("undone") == "nothing" {
		view.Done = &doneView{Icon: "undo", Word: "Nothing to undo", Below: "None of the last twenty acts is left."}
	}
	id, err := uuid.Parse(r.URL.Query().Get("done"))
	if err != nil {
		id = uuid.Nil
	}
	fix := h.Desk.Here()
	return h.Desk.Read(r.Context(), func(d desk.View) error {
		if f := d.Log.Find(id); f != nil && id != uuid.Nil {
			view.Done = doneOf(d, v.voice, f)
			if d.Undoable(id) {
				view.Undo = &undoView{Act: []field{{"act", id.String()}}, Word: view.Done.Word, Below: view.Done.Below}
				view.Done.Undo = view.Undo.Act
			}
			view.Done.Warn = keptWarning(d, f)
			if view.Done.Warn == "" {
				view.Done.Warn = releaseWarning(d, v, f)
			}
			if b, ok := f.Body.(*journal.Fish); ok && f.Counts() && b.Kept && b.Guest == uuid.Nil {
				if names := nameKeys(d, f.Entry.ID); len(names) > 0 {
					view.Done.Naming, view.Keys = true, names
				}
			}
		}
		if ask, err := uuid.Parse(r.URL.Query().Get("ask")); err == nil {
			view.Asks = asks(d, v, ask, fix)
		}
		if n, last := placeless(d); n > 0 && len(view.Asks) == 0 {
			open := optionLink{Word: "Hole " + say.HoleName(last, d.Today) + " has no place", Href: "/place?hole=" + last.ID.String()}
			if n > 1 {
				open = optionLink{Word: fmt.Sprintf("%d holes have no place", n), Href: "/holes"}
			}
			view.Open = append(view.Open, open)
		}
		if line := standing(d, v); line != "" {
			view.Step.Stands = &optionLink{Word: line, Href: "/tally"}
		}
		if len(view.Asks) > 0 && view.Done != nil { // said in one breath: there is room for one box
			view.Asks[0].Icon, view.Asks[0].Done, view.Asks[0].Undo = view.Done.Icon, view.Done.Word, view.Done.Undo
		}
		n := 0
		for _, x := range d.Party.Fish {
			if x.Day == d.Today && x.Kept && x.Guest == uuid.Nil {
				n += x.Count
			}
		}
		if n > 0 {
			view.Unnamed = []unnamedView{{Text: fmt.Sprintf("%d kept fish, no name yet", n)}}
		}
		return nil
	})
}

// doneOf says what an entry did.
func doneOf(d desk.View, voice say.Voice, f *journal.Fact) *doneView {
	at := func(hole uuid.UUID) string {
		o := d.Lake.Hole(hole)
		switch {
		case o == nil:
			return "without a hole"
		case !o.Placed:
			return "at " + say.HoleName(o, d.Today) + ", without place"
		}
		return "at " + say.HoleName(o, d.Today)
	}
	when := " · saved " + voice.Clock(f.At)
	switch b := f.Body.(type) {
	case *journal.Look:
		k := map[string]doneView{"none": {Icon: "nothing", Word: "Nothing"}, "few": {Icon: "few", Word: "Few"}, "many": {Icon: "many", Word: "Many"}}[b.Marks]
		if b.Sit != uuid.Nil {
			k = map[string]doneView{"none": {Icon: "gone", Word: "Gone"}, "few": {Icon: "back", Word: "Back"}, "many": {Icon: "many", Word: "Many"}}[b.Marks]
			if b.Strong == "weak" {
				k = doneView{Icon: "small", Word: "Small"}
			}
		}
		k.Below = at(b.Hole) + when
		return &k
	case *journal.Fish:
		k := doneView{Icon: "put-back", Word: fmt.Sprintf("Put back %d", b.Count), Below: at(b.Hole) + when}
		if b.Kept {
			k.Icon, k.Word = "keep", fmt.Sprintf("Kept %d", b.Count)
			if b.Size == "big" {
				k.Icon = "keep-big"
			}
			if g := d.Party.Guest(b.Guest); g != nil {
				k.Below = d.Name(g.Name) + when
			}
		}
		return &k
	case *journal.SitStart:
		return &doneView{Icon: "sit", Word: fmt.Sprintf("Rod %d sits", b.Rod), Below: at(b.Hole) + when}
	case *journal.SitEnd:
		return &doneView{Icon: "up", Word: "Up", Below: "line is up" + when}
	case *journal.Ice:
		return &doneView{Icon: "ice", Word: voice.Units.IceText(lengthMM(b.Total)), Below: "ice " + at(b.Hole) + when}
	case *journal.Retract:
		return &doneView{Icon: "undo", Word: "Undone", Below: undoneWord(d, voice, b.Target)}
	}
	return doneElse(d, voice, f.Body, when)
}

// doneElse says what was done besides looks, fish, sits and readings.
func doneElse(d desk.View, voice say.Voice, body journal.Body, when string) *doneView {
	switch b := body.(type) {
	case *journal.HeadCount:
		k := doneView{Icon: "person", Word: fmt.Sprintf("%d of %d here", len(b.Present), len(b.Present)+len(b.Missing)), Below: "counted by name" + when}
		if len(b.Missing) > 0 {
			k.Below = missingText(d, b.Missing) + when
		}
		return &k
	case *journal.Hole:
		return &doneView{Icon: "nothing", Word: fmt.Sprintf("Hole %d", b.Number), Below: "drilled" + when}
	case *journal.Amend:
		return &doneView{Icon: "ice", Word: amendedWord(d, voice, b), Below: "corrected" + when}
	case *journal.Trip:
		return &doneView{Icon: "walk", Word: "Trip", Below: tripWords(voice, b) + when}
	case *journal.TurnBack:
		return &doneView{Icon: "later", Word: "Turn back " + voice.Clock(time.UnixMilli(b.Until)), Below: "set by the guide" + when}
	case *journal.LoadParked:
		k := doneView{Icon: "here", Word: "Parked", Below: b.What + when}
		if b.Left {
			k.Word, k.Below = "Off the ice", b.What+when
		}
		return &k
	case *journal.Hazard:
		return &doneView{Icon: "hazard", Word: sentenceCase(say.HazardWord(b.What)), Below: say.ReportWord(b.Report) + when}
	}
	if b, ok := body.(*journal.Setting); ok && desk.RulesOut(b) {
		return &doneView{Icon: "later", Word: "Not there", Below: "ruled out for today" + when}
	}
	return &doneView{Icon: "nothing", Word: "Saved", Below: when}
}

// amendedWord says what a correction corrects.
func amendedWord(d desk.View, voice say.Voice, b *journal.Amend) string {
	o := d.Lake.Hole(b.Target)
	switch {
	case o != nil && b.Set["depth_mm"] != nil:
		return fmt.Sprintf("Hole %s: %s", say.HoleName(o, d.Today), voice.Units.DepthText(o.Depth))
	case o != nil:
		return "Hole " + say.HoleName(o, d.Today) + " placed"
	case b.Set["guest"] != nil:
		return "Name"
	}
	return "Correction"
}

// undoneWord says what was taken back.
func undoneWord(d desk.View, voice say.Voice, target uuid.UUID) string {
	f := d.Log.Find(target)
	if f == nil {
		return ""
	}
	if _, again := f.Body.(*journal.Retract); again {
		return "an undo"
	}
	k := doneOf(d, voice, f)
	return k.Word + " of " + voice.Clock(f.At)
}

// nameKeys gives a key a guest, eight at most, and one for later.
func nameKeys(d desk.View, fish uuid.UUID) []keyView {
	sheet := d.Sheet(d.Today, d.Now)
	var out []keyView
	for _, g := range d.Party.Guests {
		if g.Day != d.Today || g.Role == "guide" || g.Role == "scout" || len(out) == 8 {
			continue
		}
		name := d.Name(g.Name)
		if name == "" {
			continue
		}
		out = append(out, keyView{Icon: "person", Word: name, Small: leftOnKey(d, sheet, g.ID, fish), Action: "/fish/name",
			Fields: []field{{"fish", fish.String()}, {"guest", g.ID.String()}, {"back", "/"}}})
	}
	if len(out) > 0 {
		out = append(out, keyView{Icon: "later", Word: "Later", Href: "/"})
	}
	return out
}
