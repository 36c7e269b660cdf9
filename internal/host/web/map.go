package web

import (
	"fmt"
	"math"
	"net/http"

	"github.com/google/uuid"

	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
)

// mapView is the page Map; its drawing is done by a script from the map's data.
type mapView struct {
	Lake    string
	Legend  []legendView
	Hazards []hazardKey
	Done    string
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
			if b, ok := f.Body.(*journal.Hazard); ok {
				view.Done = sentence(say.HazardWord(b.What) + " saved " + v.voice.Clock(f.At))
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
	for i, p := range oddsLevels {
		view.Legend = append(view.Legend, legendView{fmt.Sprintf("shade-%d", i+1), say.Fraction(p)})
	}
	for _, k := range hazardKinds {
		view.Hazards = append(view.Hazards, hazardKey{k, say.HazardWord(k)})
	}
	return h.show(w, r, v, http.StatusOK, "Map", mapPage(view))
}

// placeView is what is known of a place that was touched.
type placeView struct {
	Odds, Spread, Depth, Way, Degrees string
	Ice                               string
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
	view := placeView{Odds: v.voice.Odds(o), Spread: say.OddsRange(o), Depth: "depth not known"}
	if z.Known {
		view.Depth = fmt.Sprintf("%s deep, give or take %s", v.voice.Units.DepthText(z.Mean), v.voice.Units.DepthText(z.Spread))
	}
	for _, x := range why {
		view.Why = append(view.Why, whyView{v.voice.Reason(x), v.voice.Evidence(x)})
	}
	if here := h.Desk.Here(); here.Known {
		b, l := here.At.BearingTo(*at), here.At.Distance(*at)
		const pace = 0.75 // m; common practice, no source
		view.Way = fmt.Sprintf("%.0f paces %s of here (%s), %s", math.Round(l.Metres()/pace), b.Compass(), say.Degrees(b), v.voice.Units.DistanceText(l))
	}
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		view.Degrees = d.Lake.Frame.Position(*at).DMMText()
		return nil
	})
	if err != nil {
		return err
	}
	return h.write(w, r, http.StatusOK, placePart(view))
}
