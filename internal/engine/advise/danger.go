package advise

import (
	"strings"

	"icehand/internal/base/geo"
)

// dangerAt tells whether a place lies inside a hazard in force, and in which.
func (w *world) dangerAt(p geo.Local) (Reason, bool) {
	for i := len(w.in.Lake.Hazards) - 1; i >= 0; i-- { // the newest report first
		h := w.in.Lake.Hazards[i]
		if h.InForce() && !h.When.After(w.in.Now) && h.Distance(p) == 0 {
			return Reason{Code: "hazard_here", Weight: 1, Age: max(0, w.in.Now.Sub(h.When)), Text: "inside a reported hazard: " + strings.ReplaceAll(h.What, "_", " ")}, true
		}
	}
	return Reason{}, false
}

// leave turns the step of a scout or a rod that stands inside a hazard into leaving: nothing else may be advised there.
func (w *world) leave(s *Step) {
	for i, r := range w.in.Rods {
		at, ok := w.rodAt(r)
		if !ok || i >= len(s.Rods) {
			continue
		}
		if why, bad := w.dangerAt(at); bad {
			s.Rods[i] = RodStep{Rod: r.Number, Do: Leave, ReAsk: w.in.Now, Why: []Reason{why}}
		}
	}
	p, ok := w.scout()
	if !ok {
		return
	}
	if why, bad := w.dangerAt(p); bad {
		*s = Step{At: s.At, Do: Leave, Why: []Reason{why}, Rods: s.Rods, HolesLeft: s.HolesLeft, Evidence: s.Evidence, Score: s.Score, Aim: s.Aim, Seed: s.Seed, Budget: s.Budget,
			Odds: Odds{Event: marksEvent, Wait: w.options.LookLength, Word: word(0)}}
	}
}
