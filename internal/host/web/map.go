package web

import (
	"fmt"
	"math"
	"net/http"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// mapView is the page Map; its drawing is done by a script from the map's data.
type mapView struct {
	Lake    string
	Legend  []legendView
	Hazards []hazardKey
	Done    string
	Step    stepView
	Above   string // "yes" where a picture from above can be had
}

// legendView explains one colour step of the odds.
type legendView struct{ Class, Text string }

type hazardKey struct{ What, Word string }

// hazardKinds are the dangers that one tap reports.
var hazardKinds = []string{"ridge", "crack", "thin", "open_water", "slush", "spring", "current", "other"}

func (h *handler) lakeMap(w http.ResponseWriter, r *http.Request, v *visit) error {
	view := mapView{}
	done, err := uuid.Parse(r.URL.Query().Get("done"))
	if err != nil {
		done = uuid.Nil
	}
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		view.Lake = d.Lake.Name
		if f := d.Log.Find(done); f != nil && done != uuid.Nil {
			switch b := f.Body.(type) {
			case *journal.Hazard:
				view.Done = Sentence(say.HazardWord(b.What) + " saved " + v.voice.Clock(f.At))
			case *journal.Hole:
				view.Done = fmt.Sprintf("Hole %d saved %s.", b.Number, v.voice.Clock(f.At))
			}
		}
		if held, err := uuid.Parse(r.URL.Query().Get("held")); err == nil {
			if o := d.Lake.Hole(held); o != nil {
				view.Done = "Hole " + say.HoleName(o, d.Today) + " is here already."
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if _, err := h.Desk.Quality(r.Context()); err != nil { // no outline: there is nothing to draw
		return err
	}
	if view.Step, err = h.stepNow(r, v); err != nil {
		return err
	}
	if h.Imagery != nil {
		view.Above = "yes"
	}
	for i, p := range oddsLevels {
		view.Legend = append(view.Legend, legendView{fmt.Sprintf("shade-%d", i+1), say.Fraction(p)})
	}
	for _, k := range hazardKinds {
		view.Hazards = append(view.Hazards, hazardKey{k, say.HazardWord(k)})
	}
	return h.show(w, r, v, http.StatusOK, "Map", mapPage(view))
}

// postHole records a hole without a look: where the map was touched, else where the phone stands.
func (h *handler) postHole(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	at, err := localOf(r.PostForm)
	if err != nil {
		return err
	}
	var p advise.Place
	if at != nil { // a finger on the map is no fix: the place is as good as the finger
		p = advise.Place{At: *at, Known: true, Accuracy: finger, Fixed: v.now}
	} else if p, err = h.placeOf(r.Context(), r.PostForm); err != nil {
		return err
	}
	if !p.Known {
		return fault.New(fault.BadInput, "Touch the place on the map, or log a look: its hole is placed later.", "there is no fix to put the hole at")
	}
	hole, made, err := h.Desk.Drill(r.Context(), a, desk.HoleRef{Place: &p})
	if err != nil {
		return err
	}
	if !made {
		return back(w, r, "/map?held="+hole.String())
	}
	return back(w, r, "/map?done="+a.ID.String())
}

// finger is how far a place touched on the map may be off. Ours.
const finger = 10 * quantity.Metre

// placeView is what is known of a place that was touched.
type placeView struct {
	Odds, Spread, Depth, Way, Degrees string
	Ice                               string
	Hazards                           []string // that the straight way runs into
	Why                               []whyView
}

// mapPlace answers a touch on the map: odds, depth and why, as a piece of a page.
func (h *handler) mapPlace(w http.ResponseWriter, r *http.Request, v *visit) error {
	at, err := localOf(r.URL.Query())
	if err != nil {
		return err
	}
	if at == nil {
		return h.write(w, r, http.StatusOK, placePart(placeView{Odds: "Touch a place on the lake."}))
	}
	o, why, err := h.Desk.OddsAt(r.Context(), *at)
	if err != nil {
		return err
	}
	z, err := h.Desk.DepthAt(r.Context(), *at)
	if err != nil {
		return err
	}
	ice, err := h.Desk.Ice(r.Context(), at, safety.Load{Class: loadClasses[0]})
	if err != nil {
		return err
	}
	view := placeView{Ice: iceThere(v, ice.Nearest), Odds: v.voice.Odds(o), Spread: say.OddsRange(o), Depth: "depth not known"}
	if z.Known {
		view.Depth = fmt.Sprintf("%s deep, give or take %s", v.voice.Units.DepthText(z.Mean), v.voice.Units.DepthText(z.Spread))
	}
	for _, x := range why {
		view.Why = append(view.Why, whyView{v.voice.Reason(x), v.voice.Evidence(x)})
	}
	if here := h.Desk.Here(); here.Known {
		b, l := here.At.BearingTo(*at), here.At.Distance(*at)
		view.Way = fmt.Sprintf("%.0f paces %s of here (%s), %s", math.Round(l.Metres()/lake.Pace.Metres()), b.Compass(), say.Degrees(b), v.voice.Units.DistanceText(l))
	}
	here := h.Desk.Here()
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		if here.Known {
			view.Hazards = onTheWay(d, v, here.At, *at)
		}
		view.Degrees = d.Lake.Frame.Position(*at).DMMText()
		return nil
	})
	if err != nil {
		return err
	}
	return h.write(w, r, http.StatusOK, placePart(view))
}

// iceThere says what was read at a place, or that nothing was.
func iceThere(v *visit, n *safety.Nearest) string {
	const readHere = 5 * quantity.Metre // within a phone's fix
	if n != nil && n.Reading != nil && n.Distance <= readHere && journal.DayOf(n.Reading.When, v.voice.Zone) == journal.DayOf(v.now, v.voice.Zone) {
		return fmt.Sprintf("Ice read here %s, %s. %s", v.voice.Units.IceText(n.Reading.Total), say.Age(n.Age), say.TestAsYouGo)
	}
	return v.voice.NotReadThere(n)
}

// onTheWay names the hazards in force that the straight way between two places runs into.
func onTheWay(d desk.View, v *visit, from, to geo.Local) (out []string) {
	for _, z := range desk.Across(d.Lake.Hazards, from, to) {
		out = append(out, "The straight way runs into: "+v.voice.HazardAge(z)+".")
	}
	return out
}
