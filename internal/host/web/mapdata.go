package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"math"
	"net/http"
	"strconv"
	"sync"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/ground"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/lake"
)

// The map's data are GeoJSON in metres on the lake's plane, to the decimetre.

type feature struct {
	Type       string         `json:"type"`
	Geometry   geometry       `json:"geometry"`
	Properties map[string]any `json:"properties"`
}

type geometry struct {
	Type        string `json:"type"`
	Coordinates any    `json:"coordinates"`
}

type collection struct {
	Type     string    `json:"type"`
	Features []feature `json:"features"`
}

func decimetres(x float64) float64 { return math.Round(x*10) / 10 }

func xy(p geo.Local) [2]float64 { return [2]float64{decimetres(p.E), decimetres(p.N)} }

func line(pts []geo.Local, close bool) [][2]float64 {
	out := make([][2]float64, 0, len(pts)+1)
	for _, p := range pts {
		out = append(out, xy(p))
	}
	if close && len(pts) > 0 {
		out = append(out, xy(pts[0]))
	}
	return out
}

func lineFeature(pts []geo.Local, closed bool, properties map[string]any) feature {
	return feature{"Feature", geometry{"LineString", line(pts, closed)}, properties}
}

func pointFeature(p geo.Local, properties map[string]any) feature {
	return feature{"Feature", geometry{"Point", xy(p)}, properties}
}

func polygonFeature(g geo.Polygon, properties map[string]any) feature {
	rings := [][][2]float64{line(g.Outer, true)}
	for _, h := range g.Holes {
		rings = append(rings, line(h, true))
	}
	return feature{"Feature", geometry{"Polygon", rings}, properties}
}

// sendJSON writes data that a script reads.
func sendJSON(w http.ResponseWriter, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("web: encoding the map: %w", err)
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(b) // the browser has gone away: nobody to tell
	return nil
}

// levels gives the depths of contours in round figures of the unit system, and every which one is labelled.
func levels(s quantity.System) (depths []quantity.Length, text func(quantity.Length) string) {
	step, unit := 1*quantity.Metre, quantity.Metre
	if s == quantity.US {
		step, unit = 5*quantity.Foot, quantity.Foot
	}
	for i := 1; i <= 80; i++ {
		depths = append(depths, quantity.Length(i)*step)
	}
	return depths, func(l quantity.Length) string { return strconv.Itoa(int(math.Round(float64(l / unit)))) }
}

// mapLake sends outline and depth contours, finer ones in the working area.
func (h *handler) mapLake(w http.ResponseWriter, r *http.Request, v *visit) error {
	depths, text := levels(v.settings.Units)
	bottom, outline, err := h.Desk.Bottoms(r.Context())
	if err != nil {
		return err
	}
	c := collection{Type: "FeatureCollection", Features: []feature{}}
	for _, g := range outline {
		c.Features = append(c.Features, polygonFeature(g, map[string]any{"sort": "shore"}))
	}
	at := make([]float64, len(depths))
	for i, l := range depths {
		at[i] = l.Metres()
	}
	for _, l := range bottom.Isolines(func(d ground.Depth) float64 { return d.Mean.Metres() }, at) {
		if len(l.Line) < 6 {
			continue // specks of a few cells
		}
		level := quantity.Length(l.Value)
		round := int(math.Round(float64(level/depths[0])))%2 == 0
		c.Features = append(c.Features, lineFeature(l.Line, l.Closed, map[string]any{"sort": "depth", "text": text(level), "bold": round}))
	}
	return sendJSON(w, c)
}

// today is what changes during a day: holes, hazards, this morning's line, own position, the next step.
type today struct {
	collection
	Here   *hereData   `json:"here"`
	Centre *[2]float64 `json:"centre"`
	Last   *[2]float64 `json:"last"` // the newest hole of today that is not here, for the course
}

type hereData struct {
	At       [2]float64 `json:"at"`
	Accuracy float64    `json:"accuracy"`
	Text     string     `json:"text"`
}

// oldest is how long a hole of another day stays on the map.
const oldest = 30 * 24 * time.Hour

// mapToday sends what changes during a day.
func (h *handler) mapToday(w http.ResponseWriter, r *http.Request, v *visit) error {
	ctx := r.Context()
	here := h.Desk.Here()
	back, backErr := h.Desk.TurnBack(ctx)
	step, stepErr := h.Desk.Next(ctx, nil)
	out := today{collection: collection{Type: "FeatureCollection", Features: []feature{}}}
	sitting := map[int]*lake.Hole{} // by rod
	err := h.Desk.Read(ctx, func(d desk.View) error {
		for _, s := range d.Party.RodsAt(d.Now) {
			if o := d.Lake.Hole(s.Hole); o != nil && o.Placed {
				sitting[s.Rod] = o
			}
		}
		marks, kept := outcomes(d)
		for _, o := range d.Lake.Holes {
			if !o.Placed || o.Label == "retracted" || v.now.Sub(o.Drilled) > oldest {
				continue
			}
			state := "empty"
			switch {
			case kept[o.ID] > 0:
				state = "kept"
			case marks[o.ID] == lake.Many:
				state = "many"
			case marks[o.ID] == lake.Few:
				state = "few"
			}
			p := map[string]any{"sort": "hole", "state": state, "text": say.HoleName(o, d.Today), "today": o.Day == d.Today}
			out.Features = append(out.Features, pointFeature(o.At, p))
		}
		for _, o := range d.Lake.HolesOn(d.Today) {
			if o.Placed && o.Label != "retracted" && here.Known && o.At.Distance(here.At) > 10*quantity.Metre {
				at := xy(o.At)
				out.Last = &at
			}
		}
		for _, z := range d.Lake.Hazards {
			out.Features = append(out.Features, hazardFeature(v.voice, z))
		}
		return nil
	})
	if err != nil {
		return err
	}
	if backErr == nil && len(back.Way.Line) > 1 {
		out.Features = append(out.Features, lineFeature(back.Way.Line, false, map[string]any{"sort": "way"}))
	}
	if stepErr == nil {
		out.Features = append(out.Features, stepFeatures(v, step, sitting)...)
		if step.Do == advise.Drill || step.Do == advise.Look || step.Do == advise.Move {
			at := xy(step.To)
			out.Centre = &at
		}
	}
	if here.Known {
		out.Here = &hereData{At: xy(here.At), Accuracy: here.Accuracy.Metres(), Text: fixText(v, here)}
		out.Centre = &out.Here.At
	}
	return sendJSON(w, out)
}

// stepFeatures draws where the step and its alternatives lead, and the sit clocks.
func stepFeatures(v *visit, step advise.Step, sitting map[int]*lake.Hole) []feature {
	var out []feature
	if step.Do == advise.Drill || step.Do == advise.Look || step.Do == advise.Move {
		out = append(out, pointFeature(step.To, map[string]any{"sort": "next", "text": say.Fraction(step.Odds.P)}))
	}
	for _, o := range step.Others {
		out = append(out, pointFeature(o.To, map[string]any{"sort": "other", "text": "or " + say.Fraction(o.Odds.P)}))
	}
	return append(out, clockFeatures(v, step, sitting)...)
}

// clockFeatures writes the sit clocks of the rods at their holes, those of one hole together.
func clockFeatures(v *visit, step advise.Step, at map[int]*lake.Hole) []feature {
	var out []feature
	rods := map[*lake.Hole][]advise.RodStep{}
	var order []*lake.Hole
	for _, r := range step.Rods {
		if o := at[r.Rod]; o != nil {
			if rods[o] == nil {
				order = append(order, o)
			}
			rods[o] = append(rods[o], r)
		}
	}
	for _, o := range order {
		out = append(out, pointFeature(o.At, map[string]any{"sort": "clock", "text": v.voice.SitClock(rods[o])}))
	}
	return out
}

// fixText says how old a fix is once it is older than a minute.
func fixText(v *visit, here advise.Place) string {
	if v.now.Sub(here.Fixed) < time.Minute {
		return ""
	}
	return "fix " + v.voice.Ago(here.Fixed)
}

// outcomes tells the most marks seen and the fish kept at each hole.
func outcomes(d desk.View) (marks map[uuid.UUID]lake.Marks, kept map[uuid.UUID]int) {
	marks, kept = map[uuid.UUID]lake.Marks{}, map[uuid.UUID]int{}
	for _, l := range d.Lake.Looks {
		marks[l.Hole] = max(marks[l.Hole], l.Marks)
	}
	for _, f := range d.Party.Fish {
		if f.Kept {
			kept[f.Hole] += f.Count
		}
	}
	return marks, kept
}

func hazardFeature(voice say.Voice, z *lake.Hazard) feature {
	p := map[string]any{"sort": "hazard", "text": voice.HazardAge(z), "radius": decimetres(z.Radius.Metres()), "force": z.InForce()}
	switch {
	case z.Shape == "area" && len(z.Points) > 2:
		return polygonFeature(geo.Polygon{Outer: z.Points}, p)
	case len(z.Points) > 1:
		return lineFeature(z.Points, false, p)
	}
	return pointFeature(z.Points[0], p)
}

// oddsCache keeps the odds field for the picture and its lines, which are asked for one after the other.
type oddsCache struct {
	mu    sync.Mutex
	made  time.Time
	field advise.OddsMap
}

// oddsLife is how long a field is shown before it is worked out anew.
const oddsLife = 20 * time.Second

// oddsField gives the field of odds; fresh makes it anew.
func (h *handler) oddsField(ctx context.Context, fresh bool) (advise.OddsMap, error) {
	h.odds.mu.Lock()
	defer h.odds.mu.Unlock()
	now := h.Desk.Clock()
	if age := now.Sub(h.odds.made); !fresh && !h.odds.made.IsZero() && age >= 0 && age < oddsLife {
		return h.odds.field, nil
	}
	m, err := h.Desk.Odds(ctx)
	if err != nil {
		return m, err
	}
	h.odds.field, h.odds.made = m, now
	return m, nil
}

// oddsLevels are the odds at which lines are drawn: 1 in 20, 1 in 10, 1 in 5, 1 in 3, 1 in 2.
var oddsLevels = []float64{0.05, 0.1, 0.2, 1. / 3, 0.5}

type oddsData struct {
	collection
	Extent [4]float64 `json:"extent"`
	Text   string     `json:"text"`
}

// mapOdds sends the lines of equal odds and where the picture lies.
func (h *handler) mapOdds(w http.ResponseWriter, r *http.Request, v *visit) error {
	m, err := h.oddsField(r.Context(), true)
	if err != nil {
		return err
	}
	g := m.Grid
	c := g.Cell.Metres()
	out := oddsData{collection: collection{Type: "FeatureCollection", Features: []feature{}},
		Extent: [4]float64{g.Origin.E, g.Origin.N, g.Origin.E + float64(g.NX)*c, g.Origin.N + float64(g.NY)*c},
		Text:   fmt.Sprintf("odds of marks in %s, %s", say.Span(m.Wait), v.voice.Clock(m.At))}
	for _, l := range ground.Isolines(g, m.P, oddsLevels) {
		if len(l.Line) >= 6 {
			out.Features = append(out.Features, lineFeature(l.Line, l.Closed, map[string]any{"sort": "odds", "text": say.Fraction(l.Value)}))
		}
	}
	return sendJSON(w, out)
}

// fullShade is the chance at which the colours end.
const fullShade = 0.6

// mapOddsImage sends the field of odds as a picture, a pixel a cell, the more opaque the higher the odds.
func (h *handler) mapOddsImage(w http.ResponseWriter, r *http.Request, v *visit) error {
	m, err := h.oddsField(r.Context(), false)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := png.Encode(&b, oddsPicture(m, v.settings.Theme)); err != nil {
		return fmt.Errorf("web: drawing the odds: %w", err)
	}
	w.Header().Set("Content-Type", "image/png")
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(b.Bytes()) // the browser has gone away: nobody to tell
	return nil
}

// opacity gives how strongly a chance is drawn, so that unlikely ground leaves the paper clean.
func opacity(p float64) uint8 { return uint8(30 + 185*math.Min(1, p/fullShade)) }

func oddsPicture(m advise.OddsMap, theme string) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, m.Grid.NX, m.Grid.NY))
	ramp := rampFor(theme)
	for i, p := range m.P {
		if math.IsNaN(p) {
			continue
		}
		c := shade(ramp, p/fullShade)
		c.A = opacity(p)
		img.SetNRGBA(i%m.Grid.NX, m.Grid.NY-1-i/m.Grid.NX, c)
	}
	return img
}
