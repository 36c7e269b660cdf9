package web

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/sounder"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/lake"
	"icehand/internal/trade/party"
)

// nowView is the page Now.
type nowView struct {
	Step    stepView
	Spot    spotView
	Keys    []keyView
	Done    *doneView
	Undo    *undoView     // the strip that takes back what was just done
	Unnamed []unnamedView // kept fish without a name
	Asks    []askView     // what the last act leaves open
	Open    []optionLink  // what else is left open today
	Chosen  string        // the hole that was chosen by hand; "" when it goes by the fix
	Sketch  *sketchView   // what lies about, for wide screens
	Low     *lowView      // in place of the step while the battery is low
	All     bool          // all nine keys in place of the step, for small screens
}

// stepView is the next step with its answers, at length.
type stepView struct {
	Sentence, Reason string
	Facts            []string
	Ice              string
	Clock            string  // the sit clock of every rod
	Row              rowView // the first alternative
	Trouble          string  // why there is no step
	Notes            []string
	Stands           *optionLink  // limits and fish put back; on phones the mark on People stands for it
	Answers          []say.Answer // the ten, behind one tap
	NotThere         []field      // rules the place out; nil when the step leads nowhere
	Rods             []rowView
	Others           []rowView
	Second           string   // the second target in one line, when it is near
	SecondAt         []string // the same at length
	Made             string
}

type rowView struct{ Left, Right, Below, Ice string }

type whyView struct{ Reason, Evidence string }

// spotView says where the phone stands. Each part can be touched.
type spotView struct{ Hole, Depth, DepthHref, Target, Rods string }

// keyView is one key: a form with one button, or a link.
type keyView struct {
	Icon, Word, Small string
	Action            string // posted to; "" for a link
	Href              string
	Fields            []field
	Rest              bool // not among the six keys of a small screen
	Only              bool // on small screens only
	Locate            bool // the phone is asked for a fix when it is pressed
	Five              bool // held down it counts five
}

// doneView flashes what was saved.
type doneView struct {
	Icon, Word, Below string
	Warn              string  // of a kept fish: near the limit, at it, beyond it
	Naming            bool    // the keys are names for a few seconds
	Undo              []field // takes it back; nil when nothing can
}

// undoView is the strip that stands for half a minute after an act. It names the act, so that it never takes back another.
type undoView struct {
	Act         []field
	Word, Below string
}

type unnamedView struct{ Text, Fish string }

func (h *handler) now(w http.ResponseWriter, r *http.Request, v *visit) error {
	return h.showNow(w, r, v, false)
}

// allKeys shows the nine keys without the step, one tap away from the six of a small screen.
func (h *handler) allKeys(w http.ResponseWriter, r *http.Request, v *visit) error {
	return h.showNow(w, r, v, true)
}

func (h *handler) showNow(w http.ResponseWriter, r *http.Request, v *visit, all bool) error {
	view := nowView{All: all}
	at, chosen, err := h.standing(r, &view)
	if err != nil {
		return err
	}
	if view.Low = v.low(r, "Advice once"); view.Low != nil {
		return h.lowNow(w, r, v, view, at, chosen)
	}
	var from *advise.Place
	if chosen && at.here.Known {
		from = &at.here
	}
	step, err := h.Desk.Next(r.Context(), from)
	switch {
	case err == nil:
		text := v.voice.Step(step)
		view.Step = v.step(step, text)
		h.journalAdvice(r, step, text)
	case fault.CodeOf(err) == fault.Missing && v.lake: // no outline yet: the keys work all the same
		view.Step.Trouble = fault.Public(err).Error()
	default:
		return err
	}
	// The demo's scout walks on before he looks: there the looks stay on while rods fish at the hole he leaves.
	leaving := h.Desk.Follows() && !chosen && (step.Do == advise.Drill || step.Do == advise.Look)
	if view.Spot, view.Keys, err = h.spotAndKeys(r, v, at, chosen, leaving); err != nil {
		return err
	}
	if view.Sketch, err = h.sketch(r, v, at.here, step); err != nil {
		return err
	}
	if err := h.afterAct(r, v, &view); err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "Now", nowPage(view))
}

// step puts the next step and its answers into the page's order.
func (v *visit) step(s advise.Step, t say.StepText) stepView {
	out := stepView{Sentence: t.Sentence, Reason: t.Reason, Facts: t.Facts, Ice: t.Ice, Clock: t.Clock, Answers: v.voice.Answers(s), NotThere: notThereFields(s)}
	for _, o := range t.Others {
		out.Others = append(out.Others, rowView{Left: o.Sentence, Right: strings.Trim(o.Odds+" | "+o.Cost, " |"), Below: o.Reason, Ice: o.Ice})
	}
	for _, rod := range t.Rods {
		out.Rods = append(out.Rods, rowView{Left: rod.Sentence, Right: rod.Short, Below: strings.TrimPrefix(sentenceCase(rod.Rate)+". "+rod.Reason, ". ")})
	}
	if len(t.Others) > 0 {
		first := strings.TrimPrefix(t.Others[0].Sentence, "Drill ") // the paces say that a hole is to be drilled
		out.Row = rowView{Left: "or " + strings.ToLower(first[:1]) + first[1:], Right: t.Others[0].Odds}
		if s.TossUp {
			out.Row.Left = "toss-up, " + out.Row.Left
		}
	}
	for _, n := range []string{t.Plain, t.TossUp, v.voice.Score(s.Score)} {
		if n != "" && (n != t.Plain || n != v.voice.Score(s.Score)) {
			out.Notes = append(out.Notes, n)
		}
	}
	if s.Score.Verdict == advise.Worse || s.Plain {
		out.Reason = t.Plain // said before anything else: the model does not answer
	}
	if w := t.Second; w.Sentence != "" {
		out.SecondAt = slices.Concat([]string{w.Sentence}, w.Facts, w.Why)
		if w.Soon {
			out.Second = w.Short
		}
	}
	out.Made = fmt.Sprintf("Worked out at %s by %s, seed %d, %d evaluations.", v.voice.Clock(s.At), advise.Version, s.Seed, s.Budget)
	return out
}

// journalAdvice records a step that is about to be shown, once as long as the call stays the same. A store that cannot
// take it does not keep the guide from seeing it.
func (h *handler) journalAdvice(r *http.Request, s advise.Step, t say.StepText) {
	h.advised.Lock()
	defer h.advised.Unlock()
	shown := desk.Shown{Sentence: t.Sentence, Reason: t.Reason}
	if t.Second.Soon {
		shown.Second, shown.SecondIs, shown.PaysPPM = string(s.Second.Verdict), t.Second.Short, int64(math.Round(s.Second.Best.Pays*1e6))
	}
	if err := h.Desk.JournalStep(r.Context(), s, shown); err != nil {
		h.Log.Warn("Advice shown could not be journaled", "cause", err)
	}
}

// spot is where the next act belongs: a hole of today, and the place of the phone or of the chosen hole.
type spot struct {
	here advise.Place
	hole uuid.UUID
}

// standing tells where the next act belongs: at the hole that the address names, else where the phone stands.
func (h *handler) standing(r *http.Request, view *nowView) (at spot, chosen bool, err error) {
	if at.here, at.hole, err = h.Desk.Standing(r.Context()); err != nil || r.URL.Query().Get("hole") == "" {
		return at, false, err
	}
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		o, err := holeNamed(r, d)
		if err != nil {
			return err
		}
		at, chosen, view.Chosen = spot{hole: o.ID}, true, say.HoleName(o, d.Today)
		if o.Placed {
			at.here = advise.Place{At: o.At, Known: true, Accuracy: o.Accuracy, Fixed: d.Now}
		}
		return nil
	})
	return at, chosen, err
}

// spotAndKeys says where the next act belongs and which keys that place has.
func (h *handler) spotAndKeys(r *http.Request, v *visit, at spot, chosen, leaving bool) (view spotView, keys []keyView, err error) {
	var depth quantity.Length
	charted := false
	if at.here.Known {
		if z, err := h.Desk.DepthAt(r.Context(), at.here.At); err == nil && z.Known {
			depth, charted = z.Mean, true
		}
	}
	var sit *party.Sit
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		hole := d.Lake.Hole(at.hole)
		if hole != nil && hole.Depth > 0 {
			depth, _ = sounder.Depth(d.Lake, hole)
			charted = false
		}
		rods := d.Party.RodsAt(d.Now)
		for _, s := range rods {
			if s.Hole == at.hole && at.hole != uuid.Nil && !leaving {
				sit = s
			}
		}
		view = v.spot(d, hole, at.here, depth, charted, len(rods))
		return nil
	})
	named := uuid.Nil
	if chosen {
		named = at.hole
	}
	return view, h.keys(at.hole, sit, named), err
}

func (v *visit) spot(d desk.View, hole *lake.Hole, here advise.Place, depth quantity.Length, charted bool, wet int) spotView {
	s := spotView{DepthHref: "/holes"}
	switch {
	case hole != nil:
		s.Hole, s.DepthHref = "Hole "+say.HoleName(hole, d.Today), "/depth?hole="+hole.ID.String()
	case here.Known:
		s.Hole = "No hole"
	default:
		s.Hole = "No fix"
	}
	s.Depth = "depth ?"
	if depth > 0 {
		s.Depth = v.voice.Units.DepthText(depth)
		if charted {
			s.Depth += " map"
		}
	}
	s.Target, s.Rods = "perch", rodsWord(wet)
	if t := d.Party.Trip(d.Today); t != nil {
		if t.Target != "" {
			s.Target = t.Target
		}
		if wet < t.Rods {
			s.Rods = fmt.Sprintf("%d of %s", wet, rodsWord(t.Rods))
		}
	}
	return s
}

func rodsWord(n int) string {
	if n == 1 {
		return "1 rod"
	}
	return fmt.Sprintf("%d rods", n)
}

// keys gives the nine keys in their fixed places, and the one that leads to the rest on a small screen. A hole that was
// chosen by hand goes with every key; else the fix says where an act belongs, and a sit its own hole.
func (h *handler) keys(hole uuid.UUID, sit *party.Sit, chosen uuid.UUID) []keyView {
	locate := !h.Desk.Told() && chosen == uuid.Nil
	at, ice, more := []field{}, "/ice#read", "/keys"
	if chosen != uuid.Nil {
		at, ice, more = []field{{"hole", chosen.String()}}, "/ice?hole="+chosen.String()+"#read", "/keys?hole="+chosen.String()
	}
	named := at
	if sit != nil {
		at = []field{{"hole", hole.String()}, {"sit", sit.ID.String()}}
	}
	look := func(icon, word, marks string, besides ...field) keyView {
		return keyView{Icon: icon, Word: word, Action: "/look", Fields: slices.Concat([]field{{"marks", marks}}, at, besides), Locate: locate && sit == nil}
	}
	fish := func(icon, word, kept, size string, rest bool) keyView {
		return keyView{Icon: icon, Word: word, Action: "/fish", Fields: slices.Concat([]field{{"kept", kept}, {"size", size}}, named), Rest: rest, Locate: locate, Five: true}
	}
	keys := []keyView{look("nothing", "Nothing", "none"), look("few", "Few", "few"), look("many", "Many", "many")}
	sitKey := keyView{Icon: "sit", Word: "Sit", Action: "/sit", Fields: named, Locate: locate}
	if sit != nil {
		keys = []keyView{look("gone", "Gone", "none"), look("back", "Back", "few"), look("small", "Small", "few", field{"small", "yes"})}
		sitKey = keyView{Icon: "up", Word: "Up", Action: "/up", Fields: at}
	}
	return append(keys,
		fish("put-back", "Put back", "no", "", true), fish("keep", "Keep", "yes", "good", false), fish("keep-big", "Keep big", "yes", "big", true),
		sitKey,
		keyView{Icon: "ice", Word: "Read ice", Href: ice, Rest: true},
		keyView{Icon: "undo", Word: "Undo", Action: "/undo", Rest: true},
		keyView{Icon: "more", Word: "More", Href: more, Only: true})
}
